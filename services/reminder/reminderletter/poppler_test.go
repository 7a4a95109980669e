package reminderletter

import (
	"bytes"
	"encoding/xml"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// The tests in this file read the printed letters with poppler-utils.

// word is a word where it stands, in millimetres from the top left corner.
type word struct {
	text                   string
	left, top, right, foot float64
}

type sheet struct {
	width, height float64
	words         []word
}

// poppler finds one of its programs, or skips the test where there is none.
func poppler(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("no " + name)
		}
		t.Skip("no " + name + ": as root, apt-get install poppler-utils")
	}
	return path
}

func ran(t *testing.T, name string, arguments ...string) []byte {
	t.Helper()
	cmd := exec.Command(poppler(t, name), arguments...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, stderr.String())
	}
	return out
}

func written(t *testing.T, pdf []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "letters.pdf")
	if err := os.WriteFile(path, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// read gives the words of a document, page by page.
func read(t *testing.T, pdf []byte) (sheets []sheet) {
	t.Helper()
	var out struct {
		Pages []struct {
			Width  float64 `xml:"width,attr"`
			Height float64 `xml:"height,attr"`
			Words  []struct {
				Text string  `xml:",chardata"`
				XMin float64 `xml:"xMin,attr"`
				YMin float64 `xml:"yMin,attr"`
				XMax float64 `xml:"xMax,attr"`
				YMax float64 `xml:"yMax,attr"`
			} `xml:"word"`
		} `xml:"body>doc>page"`
	}
	d := xml.NewDecoder(bytes.NewReader(ran(t, "pdftotext", "-bbox", written(t, pdf), "-")))
	d.Strict, d.Entity = false, xml.HTMLEntity
	if err := d.Decode(&out); err != nil {
		t.Fatal(err)
	}
	for _, p := range out.Pages {
		s := sheet{width: p.Width * mm, height: p.Height * mm}
		for _, w := range p.Words {
			s.words = append(s.words, word{w.Text, w.XMin * mm, w.YMin * mm, w.XMax * mm, w.YMax * mm})
		}
		sheets = append(sheets, s)
	}
	return sheets
}

// all is the words of a sheet in the order in which they are read.
func (s sheet) all() string {
	var texts []string
	for _, w := range s.words {
		texts = append(texts, w.text)
	}
	return strings.Join(texts, " ")
}

// touching gives the words of which any part stands in a box.
func (s sheet) touching(b box) string {
	var texts []string
	for _, w := range s.words {
		if w.left < b.right() && w.right > b.x && w.top < b.bottom() && w.foot > b.y {
			texts = append(texts, w.text)
		}
	}
	return strings.Join(texts, " ")
}

// within gives the words that stand wholly in a box.
func (s sheet) within(b box) string {
	var texts []string
	for _, w := range s.words {
		if w.left >= b.x && w.right <= b.right() && w.top >= b.y && w.foot <= b.bottom() {
			texts = append(texts, w.text)
		}
	}
	return strings.Join(texts, " ")
}

func TestTheAddressAndNothingElseShowsInTheWindow(t *testing.T) {
	// The boxes are given once more here, from the standards, by hand.
	for _, c := range []struct {
		name   string
		paper  Paper
		sheet  sheet
		always box // what the window shows however the sheet slips
		ever   box // what it may show
		back   string
	}{
		// DIN 5008:2020 form B, address field 85 x 45 mm at 20/45 mm; DIN 680
		// window of 90 x 45 mm in a DL envelope of 220 x 110 mm (ISO 269), 20 mm
		// from the left and 15 mm from the bottom. The sheet is folded at 105 mm:
		// 10 mm of play sideways, 5 mm up and down.
		{"A4", A4, sheet{width: 210, height: 297}, box{20, 50, 80, 40}, box{10, 45, 100, 50},
			"Aldermoor Works · 1 Mill Lane · Aldermoor"},
		// Common practice, no source: No. 10 envelope of 9 1/2 x 4 1/8 in, window
		// of 4 1/2 x 1 1/8 in, 7/8 in from the left, 1/2 in from the bottom; a
		// letter sheet folded in three is 3.667 in high.
		{"Letter", USLetter, sheet{width: 215.9, height: 279.4},
			box{0.875 * 25.4, 2.5 * 25.4, 3.5 * 25.4, (3.625 - 0.458 - 2.5) * 25.4},
			box{0, 2.042 * 25.4, 5.375 * 25.4, (3.625 - 2.042) * 25.4}, ""},
	} {
		for name, to := range addresses {
			if c.paper == USLetter && len(to) > 5 {
				continue
			}
			l := letterTo(to)
			pdf, err := Print(Config{Works: works, Paper: c.paper}, []Addressed{l})
			if err != nil {
				t.Errorf("%s, %s: %v", c.name, name, err)
				continue
			}
			sheets := read(t, pdf)
			first := sheets[0]
			if math.Abs(first.width-c.sheet.width) > 0.1 || math.Abs(first.height-c.sheet.height) > 0.1 {
				t.Errorf("%s: a sheet of %.1f x %.1f mm", c.name, first.width, first.height)
			}
			address := strings.Join(strings.Fields(strings.Join(to, " ")), " ")
			want := strings.TrimSpace(c.back + " " + address)
			if got := first.within(c.always); got != want {
				t.Errorf("%s, %s: always seen is %q, want %q", c.name, name, got, want)
			}
			if got := first.touching(c.ever); got != want {
				t.Errorf("%s, %s: ever seen is %q, want %q", c.name, name, got, want)
			}
		}
	}
}

func TestALetterIsReadInOrderAndWhole(t *testing.T) {
	for _, paper := range []Paper{A4, USLetter} {
		l := letterTo(addresses["plain"])
		l.Sheet = longSheet(40)
		pdf, err := Print(Config{Works: works, Paper: paper}, []Addressed{l})
		if err != nil {
			t.Fatal(err)
		}
		sheets := read(t, pdf)
		if len(sheets) < 3 {
			t.Fatalf("%d pages; the test wants some", len(sheets))
		}
		var body []string
		for i, s := range sheets {
			area := din5008B
			if paper == USLetter {
				area = no10
			}
			at := area.more
			if i == 0 {
				at = area.text
			}
			body = append(body, s.touching(at))
			if got := s.within(at); got != s.touching(at) {
				t.Errorf("page %d: words stand across the margin", i+1)
			}
			number := strings.Fields(s.all())
			if got := strings.Join(number[len(number)-3:], " "); got != itoa(i+1)+" / "+itoa(len(sheets)) {
				t.Errorf("page %d ends with %q", i+1, got)
			}
			for _, w := range s.words {
				if w.left < 5 || w.right > s.width-5 || w.top < 5 || w.foot > s.height-5 {
					t.Errorf("page %d: %q stands at the edge of the sheet", i+1, w.text)
				}
			}
		}
		var want []string
		for _, text := range texts(Addressed{Sheet: l.Sheet}) {
			want = append(want, strings.Fields(text)...)
		}
		// Date and serial stand beside the window, bullets before rows.
		got := slices.DeleteFunc(strings.Fields(strings.Join(body, " ")), func(w string) bool { return w == "•" })
		want = slices.DeleteFunc(want, func(w string) bool { return w == l.Sheet.Date || w == l.Sheet.Serial })
		if !slices.Equal(got, want) {
			for i := range min(len(got), len(want)) {
				if got[i] != want[i] {
					t.Fatalf("word %d: %q, want %q", i, got[i], want[i])
				}
			}
			t.Fatalf("%d words, want %d", len(got), len(want))
		}
	}
}

func TestEachLetterBeginsOnASheetOfItsOwn(t *testing.T) {
	long := letterTo(addresses["plain"])
	long.Sheet = longSheet(4)
	short := letterTo(addresses["accents"])
	batch := []Addressed{short, long, short}
	for _, c := range []struct {
		duplex bool
		want   []bool // a page begins a letter
	}{
		{false, []bool{true, true, false, true}},
		{true, []bool{true, false, true, false, true, false}},
	} {
		pdf, err := Print(Config{Works: works, Duplex: c.duplex}, batch)
		if err != nil {
			t.Fatal(err)
		}
		var got []bool
		for _, s := range read(t, pdf) {
			got = append(got, s.touching(box{25, 62.7, 75, 27.3}) != "" && strings.HasPrefix(s.all(), works.Name))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("duplex %v: %v, want %v", c.duplex, got, c.want)
		}
	}
}

func TestThePropertiesNameNobody(t *testing.T) {
	pdf, err := Print(Config{Works: works}, []Addressed{letterTo(addresses["plain"])})
	if err != nil {
		t.Fatal(err)
	}
	got := string(ran(t, "pdfinfo", "-isodates", written(t, pdf)))
	for _, want := range []string{"Title:           Letters\n", "Producer:        halfshaft\n", "CreationDate:    2000-01-01"} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in\n%s", want, got)
		}
	}
	for _, name := range []string{"Ann", "Moller", "AM0147P", "Aldermoor"} {
		if strings.Contains(got, name) {
			t.Errorf("the properties name %s:\n%s", name, got)
		}
	}
	if fonts := string(ran(t, "pdffonts", written(t, pdf))); strings.Count(fonts, " yes no  yes ") != 2 {
		t.Errorf("not both fonts are embedded, with Unicode for who copies the text:\n%s", fonts)
	}
}
