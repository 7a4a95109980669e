package figure_test

import (
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"halfshaft/services/internal/figure"
	"halfshaft/services/vehicle"
)

var update = flag.Bool("update", false, "write the golden files anew; look at the pictures before committing them")

// TestGoldenPictures keeps one picture of each kind in both layouts, as files
// that a browser opens.
func TestGoldenPictures(t *testing.T) {
	for _, s := range samples() {
		if strings.Contains(s.name, "-") {
			continue // the first of each kind
		}
		for name, l := range map[string]figure.Layout{"narrow": figure.Narrow, "wide": figure.Wide} {
			f := s.draw(figure.Reader{Unit: s.unit}, l)
			svg := strings.ReplaceAll(string(f.SVG("f")), "><", ">\n<") + "\n"
			svg = strings.Replace(svg, "<svg ", `<svg xmlns="http://www.w3.org/2000/svg" font-family="sans-serif" `, 1)
			golden(t, s.name+"-"+name+".svg", svg)
		}
	}
}

func TestGoldenSentencesAndTables(t *testing.T) {
	var b strings.Builder
	for _, s := range samples() {
		for _, language := range []string{"en", "de"} {
			if language == "de" && strings.Contains(s.name, "-") {
				continue
			}
			f := s.draw(figure.Reader{Language: language, Unit: s.unit}, figure.Wide)
			fmt.Fprintf(&b, "== %s, %s\n%s\n", s.name, language, f.Title)
			for _, sentence := range f.Description {
				fmt.Fprintf(&b, "%s\n", sentence)
			}
			rows := f.Table.Rows
			fmt.Fprintf(&b, "-- %s\n%s\n", f.Table.Caption, strings.Join(f.Table.Heads, " | "))
			for i, row := range rows {
				if i < 12 || i > len(rows)-5 {
					fmt.Fprintf(&b, "%s\n", strings.Join(row, " | "))
				} else if i == 12 {
					fmt.Fprintf(&b, "... %d rows in all\n", len(rows))
				}
			}
			b.WriteString("\n")
		}
	}
	golden(t, "said.golden", b.String())
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o750); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		g, w := strings.Split(got, "\n"), strings.Split(string(want), "\n")
		for i := range g {
			if i >= len(w) || g[i] != w[i] {
				t.Errorf("%s, line %d: %q; look at it, and write it anew with -update", path, i+1, g[i])
				return
			}
		}
		t.Errorf("%s has %d lines more", path, len(w)-len(g))
	}
}

// element is what a test reads of an SVG.
type element struct {
	name  string
	attrs map[string]string
	text  string
}

func elements(t *testing.T, source string) (all []element) {
	t.Helper()
	decoder := xml.NewDecoder(strings.NewReader(source))
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			return all
		}
		if err != nil {
			t.Fatalf("%v in %s", err, source)
		}
		switch token := token.(type) {
		case xml.StartElement:
			e := element{name: token.Name.Local, attrs: map[string]string{}}
			for _, a := range token.Attr {
				e.attrs[a.Name.Local] = a.Value
			}
			all = append(all, e)
		case xml.CharData:
			if len(all) > 0 {
				all[len(all)-1].text += string(token)
			}
		}
	}
}

func TestAPictureIsWellFormedAndNamesItself(t *testing.T) {
	for _, s := range samples() {
		f := s.draw(figure.Reader{Unit: s.unit}, figure.Wide)
		all := elements(t, string(f.SVG("ledger-1")))
		root := all[0]
		ids := map[string]element{}
		for _, e := range all {
			if id := e.attrs["id"]; id != "" {
				if _, twice := ids[id]; twice || !strings.HasPrefix(id, "ledger-1-") {
					t.Errorf("%s: the id %q is there twice, or not the caller's", s.name, id)
				}
				ids[id] = e
			}
			if slices.Contains([]string{"script", "style", "a", "image", "foreignObject", "use"}, e.name) {
				t.Errorf("%s: there is a %s", s.name, e.name)
			}
			for name, value := range e.attrs {
				if name == "style" || name == "href" || strings.HasPrefix(name, "on") {
					t.Errorf("%s: %s has %s=%q", s.name, e.name, name, value)
				}
				if to, ok := strings.CutPrefix(value, "url(#"); ok {
					if _, there := ids[strings.TrimSuffix(to, ")")]; !there {
						t.Errorf("%s: %q leads nowhere", s.name, value)
					}
				}
			}
		}
		title, desc := ids[root.attrs["aria-labelledby"]], ids[root.attrs["aria-describedby"]]
		if root.attrs["role"] != "img" || title.name != "title" || title.text != f.Title || desc.name != "desc" || desc.text != strings.Join(f.Description, " ") {
			t.Errorf("%s: %v, %v, %v", s.name, root, title, desc)
		}
	}
}

func TestWhatWasWrittenByOthersIsEscaped(t *testing.T) {
	l := figure.Ledger{
		Vehicle: `<script>alert("&")</script>`, Today: day("2026-11-27"),
		Readings: []figure.Reading{{On: day("2026-01-02"), Distance: miles(10), Shown: `<b onclick='x'>`}, {On: day("2026-03-02"), Distance: miles(400)}},
		Events:   []figure.InstrumentEvent{{On: day("2026-02-02"), Name: `"><img src=x>`}},
	}
	draw := func(at figure.Layout) figure.Figure { return l.Figure(figure.Reader{}, at) }
	for _, html := range []string{string(draw(figure.Wide).SVG("x")), string(figure.Block("x", figure.Reader{}, draw))} {
		for _, bad := range []string{"<script", "<img", "<b "} {
			if strings.Contains(html, bad) {
				t.Errorf("%q in %s", bad, html)
			}
		}
	}
}

func TestABlockHasBothLayoutsAndOneTable(t *testing.T) {
	l := alpha()
	all := elements(t, string(figure.Block("f1", figure.Reader{Unit: vehicle.Miles}, func(at figure.Layout) figure.Figure {
		return l.Figure(figure.Reader{Unit: vehicle.Miles}, at)
	})))
	count := map[string]int{}
	ids := map[string]bool{}
	for _, e := range all {
		count[e.name]++
		if id := e.attrs["id"]; id != "" && ids[id] {
			t.Errorf("the id %q is there twice", id)
		} else {
			ids[id] = true
		}
	}
	rows := len(l.Figure(figure.Reader{}, figure.Wide).Table.Rows)
	if count["svg"] != 2 || count["table"] != 1 || count["tr"] != rows+1 || count["figcaption"] != 1 || count["caption"] != 1 {
		t.Errorf("%v for %d rows", count, rows)
	}
}

func TestPicturesAreLight(t *testing.T) {
	for _, s := range samples() {
		f := s.draw(figure.Reader{Unit: s.unit}, figure.Wide)
		if n := len(f.SVG("f")); n > 24_000 {
			t.Errorf("%s is %d bytes", s.name, n)
		}
	}
}
