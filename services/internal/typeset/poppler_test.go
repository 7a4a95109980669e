package typeset

import (
	"bytes"
	"encoding/xml"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// The tests in this file read printed documents with poppler-utils.

// poppler runs one of its programs, or skips the test where there is none.
func poppler(t *testing.T, pdf []byte, name string, arguments ...string) []byte {
	t.Helper()
	program, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("no " + name)
		}
		t.Skip("no " + name + ": as root, apt-get install poppler-utils")
	}
	path := filepath.Join(t.TempDir(), "document.pdf")
	if err := os.WriteFile(path, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(program, append(arguments, path, "-")[:len(arguments)+1+btoi(name == "pdftotext")]...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, stderr.String())
	}
	return out
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

func TestAReaderOfTheFileFindsAllWordsInOrder(t *testing.T) {
	for _, paper := range []Paper{A4, A5, USLetter} {
		pdf, err := PDF(sample(), Print{Paper: paper})
		if err != nil {
			t.Fatal(err)
		}
		printed := strings.Fields(strings.ReplaceAll(string(poppler(t, pdf, "pdftotext", "-raw")), "\u00a0", " "))
		for _, text := range sample().Texts() {
			for _, word := range strings.Fields(strings.ReplaceAll(text, "\u00a0", " ")) {
				found := -1
				for i, p := range printed {
					// Behind a reference a comma and a page follow; notes of boxes
					// stand in brackets.
					p = strings.TrimPrefix(strings.TrimSuffix(p, ")"), "(")
					word = strings.TrimPrefix(strings.TrimSuffix(word, ")"), "(")
					if p == word || p == strings.TrimRight(word, ".")+"," || strings.HasPrefix(word, p) && strings.HasSuffix(p, "-") {
						found = i
						break
					}
				}
				if found < 0 {
					t.Fatalf("%s: %q of %q is lost or out of order", paper, word, text)
				}
				if !strings.Contains(text, "Figure") && !inDrawing(word) {
					printed = printed[found:]
				}
			}
		}
	}
}

// inDrawing says whether a word is one of those in the sample's drawing, which
// stand in the order in which they are painted, before the caption.
func inDrawing(word string) bool {
	return strings.Contains(" True speed against what the speedometer shows. true speed, mph 70 limit ", " "+word+" ")
}

// printedPage is a page with its words where they stand, in points.
type printedPage struct {
	Width  float64 `xml:"width,attr"`
	Height float64 `xml:"height,attr"`
	Words  []struct {
		Text string  `xml:",chardata"`
		XMin float64 `xml:"xMin,attr"`
		XMax float64 `xml:"xMax,attr"`
		YMin float64 `xml:"yMin,attr"`
		YMax float64 `xml:"yMax,attr"`
	} `xml:"word"`
}

func boxes(t *testing.T, pdf []byte) []printedPage {
	t.Helper()
	var out struct {
		Pages []printedPage `xml:"body>doc>page"`
	}
	d := xml.NewDecoder(bytes.NewReader(poppler(t, pdf, "pdftotext", "-bbox")))
	d.Strict, d.Entity = false, xml.HTMLEntity
	if err := d.Decode(&out); err != nil {
		t.Fatal(err)
	}
	return out.Pages
}

func TestThePageNumberStandsAtTheOuterSide(t *testing.T) {
	s, err := sheetOf(A5)
	if err != nil {
		t.Fatal(err)
	}
	d := sample()
	d.Edition = "an edition without a number"
	for _, duplex := range []bool{false, true} {
		pdf, err := PDF(d, Print{Paper: A5, Duplex: duplex})
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range boxes(t, pdf)[1:] { // the title page has none
			number, found := strconv.Itoa(i+2), false
			left, right := s.left(i+2, duplex), s.left(i+2, duplex)+s.textWidth()
			for _, w := range p.Words {
				if w.Text != number || w.YMin*Point < s.foot-5 {
					continue
				}
				found = true
				if atLeft := w.XMin*Point < left+1; atLeft != (duplex && i%2 == 0) || !atLeft && w.XMax*Point < right-1 {
					t.Errorf("printed on both sides: %v; the number of page %s stands from %.1f to %.1f mm", duplex, number, w.XMin*Point, w.XMax*Point)
				}
			}
			if !found {
				t.Errorf("page %s has no number", number)
			}
		}
	}
}

func TestNoInkOfWordsStandsInTheMargins(t *testing.T) {
	for _, paper := range []Paper{A4, A5, USLetter} {
		for _, duplex := range []bool{false, true} {
			s, err := sheetOf(paper)
			if err != nil {
				t.Fatal(err)
			}
			pdf, err := PDF(sample(), Print{Paper: paper, Duplex: duplex})
			if err != nil {
				t.Fatal(err)
			}
			out := boxes(t, pdf)
			if len(out) < 5 {
				t.Fatalf("only %d pages", len(out))
			}
			for i, p := range out {
				if w, h := p.Width*Point, p.Height*Point; w < s.width-0.1 || w > s.width+0.1 || h < s.height-0.1 || h > s.height+0.1 {
					t.Errorf("%s: a sheet of %.1f x %.1f mm", paper, w, h)
				}
				left := s.left(i+1, duplex)
				for _, w := range p.Words {
					if x, right := w.XMin*Point, w.XMax*Point; x < left-0.3 || right > left+s.textWidth()+0.5 {
						t.Errorf("%s, page %d: %q from %.1f to %.1f mm, the text from %.1f to %.1f", paper, i+1, w.Text, x, right, left, left+s.textWidth())
					}
					if w.YMin*Point < 5 || w.YMax*Point > s.height-5 {
						t.Errorf("%s, page %d: %q at the edge", paper, i+1, w.Text)
					}
				}
			}
		}
	}
}

func TestTheFileSaysWhatItIs(t *testing.T) {
	pdf, err := PDF(sample(), Print{Paper: A5, Duplex: true})
	if err != nil {
		t.Fatal(err)
	}
	info := string(poppler(t, pdf, "pdfinfo"))
	for _, want := range []string{"Title: +Owner's handbook for AM0147P", "Pages: +10", "CreationDate: +Sat Jan +1"} {
		if !regexp.MustCompile(want).MatchString(info) {
			t.Errorf("%q is not in\n%s", want, info)
		}
	}
	for _, want := range []string{"/Lang (en)", "/PageMode /UseOutlines"} {
		if !bytes.Contains(pdf, []byte(want)) {
			t.Errorf("%s is not in the file", want)
		}
	}
	headings := 0
	for _, b := range body() {
		switch b := b.(type) {
		case Heading:
			headings++
		case Together:
			headings += len(b.Blocks) - 1
		}
	}
	// The title, the contents, the index and each heading.
	if got := bytes.Count(pdf, []byte("/Parent")); got < headings+2 {
		t.Errorf("an outline of %d entries, %d headings", got, headings)
	}
	if got := bytes.Count(pdf, []byte("/Subtype /Link")); got < 20 {
		t.Errorf("only %d links", got)
	}
}

func TestFontsAreEmbeddedInPart(t *testing.T) {
	pdf, err := PDF(sample(), Print{})
	if err != nil {
		t.Fatal(err)
	}
	if len(pdf) > 120_000 {
		t.Errorf("%d bytes: whole fonts are in it", len(pdf))
	}
	for _, line := range strings.Split(string(poppler(t, pdf, "pdffonts")), "\n")[2:] {
		if f := strings.Fields(line); len(f) > 5 && (f[len(f)-5] != "yes" || f[len(f)-3] != "yes") {
			t.Errorf("a font that is not embedded, or whose letters cannot be copied: %s", line)
		}
	}
}

func TestLongDocumentsAreReadBackWhole(t *testing.T) {
	d := Document{Title: "Long", Edition: "Issue 1", Blocks: []Block{Contents{Title: "Contents"}}}
	w := 0
	next := func(n int) string {
		var all []string
		for range n {
			w++
			all = append(all, "w"+strconv.Itoa(w))
		}
		return strings.Join(all, " ")
	}
	for i := range 60 {
		d.Blocks = append(d.Blocks, Heading{Level: 1 + i%3, Text: next(3)}, Paragraph{Runs: Words(next(40 + i*7%150))})
	}
	pdf, err := PDF(d, Print{Paper: A5, Duplex: true})
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Fields(string(poppler(t, pdf, "pdftotext", "-raw")))
	at := 0
	for n := 1; n <= w; n++ {
		for at < len(text) && text[at] != "w"+strconv.Itoa(n) {
			at++
		}
		if at == len(text) {
			t.Fatalf("word %d of %d is lost or out of order", n, w)
		}
	}
}

func BenchmarkPDF(b *testing.B) {
	for b.Loop() {
		if _, err := PDF(sample(), Print{Paper: A5, Duplex: true}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkHTML(b *testing.B) {
	for b.Loop() {
		if _, err := HTML(sample(), "/style.css"); err != nil {
			b.Fatal(err)
		}
	}
}
