package typeset

import (
	"slices"
	"strings"
	"testing"
	"unicode"
)

func testSpeller(t testing.TB) *speller {
	t.Helper()
	faces, err := loaded()
	if err != nil {
		t.Fatal(err)
	}
	return &speller{faces: faces, phrases: English(), page: func(string) (int, int) { return 12, 3 }}
}

// textOf is what lines say, with a stroke between them.
func textOf(lines []line) string {
	var all []string
	for _, l := range lines {
		text := ""
		for _, p := range l.pieces {
			text += p.text
		}
		all = append(all, text)
	}
	return strings.Join(all, "|")
}

func TestRunsAreBrokenBetweenWordsOnly(t *testing.T) {
	p := testSpeller(t)
	narrow := 22.0 // about twelve letters
	for _, c := range []struct {
		name string
		runs Runs
		want string
	}{
		{"a number stays with its unit", Runs{{Text: "Torque of about "}, Measured("45", "N·m"), {Text: "."}}, "Torque|of about|45\u00a0N·m."},
		{"an angle has no space before its unit", Runs{Measured("12", "°")}, "12°"},
		{"a range stays whole", Runs{{Text: "not set to "}, Measured("0.2 – 0.5", "mm")}, "not set to |0.2\u00a0–\u00a00.5\u00a0mm"},
		{"unless it is wider than the line", Runs{Measured("0.2000 – 0.2500", "mm")}, "0.2000 – |0.2500 mm"},
		{"runs without a space stay together", Runs{{Text: "("}, {Kind: Strong, Text: "not"}, {Text: ") so"}}, "(not) so"},
		{"a part's number is not parted at its hyphen", Words("filter no 4410-2"), "filter no |4410-2"},
		{"words joined by a hyphen are", Words("a water-cooled"), "a water-|cooled"},
		{"a soft hyphen shows where it is used", Words("hand\u00adbooks of the"), "handbooks |of the"},
		{"and parts a long word", Words("workshop\u00admanuals"), "workshop-|manuals"},
		{"a reference names its page", Runs{See("Oil", "oil")}, "Oil, page\u00a012"},
		{"a reference without words is its page", Runs{{Text: "see "}, See("", "oil")}, "see page\u00a012"},
		{"line breaks are spaces", Words("one\n two\t three"), "one two |three"},
		{"a word wider than the line is cut", Words("unsynchronisedgearbox"), "unsynchroni|sedgearbox"},
	} {
		got := textOf(p.faces.broken(p.words(c.runs, style{size: 10}), narrow, 10))
		if strings.ReplaceAll(got, " |", "|") != strings.ReplaceAll(c.want, " |", "|") {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func TestEveryFaceHasWhatAHandbookNeeds(t *testing.T) {
	p := testSpeller(t)
	// What figures, fractions, limits and the languages of Europe need beside
	// ASCII; the square stands for what is lacking.
	for _, r := range "°µμ±×÷≤≥≈√½¼¾⅓⅔⅛⅜⅝⅞→←↑↓–—−‘’“”„…′″²³·•Ω€£§†‰ÄÖÜäöüßéèêñçåøæœŁłŘřŐőŞğİıŠšŽžΑαЖж□\u00a0" {
		if !p.faces.has(r) {
			t.Errorf("%q (%U) cannot be set", r, r)
		}
	}
	for f := range face(faces) {
		for r := '0'; r <= '9'; r++ {
			if p.faces[f][r] != p.faces[f]['0'] {
				t.Errorf("face %d: %q is not as wide as 0: figures would not stand below each other", f, r)
			}
		}
	}
	if p.faces.has('⚠') || p.faces.has('田') || p.faces.has('🔧') {
		t.Error("signs that no font has are said to be there")
	}
}

func TestACharacterThatOneFamilyLacksIsSetFromTheOther(t *testing.T) {
	p := testSpeller(t)
	got := p.faces.pieces("a□b", serif, 10)
	if len(got) != 3 || got[0].face != serif || got[1].face != sans || got[2].text != "b" {
		t.Errorf("got %+v", got)
	}
}

func TestWhatCannotBePrintedIsTold(t *testing.T) {
	d := Document{Title: "Handbook", Blocks: []Block{
		Paragraph{Runs: Words("Ring 🔧, a\u200Db, e\u0301")},
		Table{Columns: []Column{{Head: "田"}}, Groups: []Group{{Rows: []Row{{Cells: []Cell{{Runs: Words("中")}}}}}}},
	}}
	got, err := Unprintable(d)
	if err != nil || !slices.Equal(got, []rune{'中', '田', '🔧'}) {
		t.Errorf("got %q, %v", got, err)
	}
	l, err := lay(d, Print{})
	if err != nil {
		t.Fatal(err)
	}
	if text := strings.Join(said(l.pages), " "); strings.Count(text, "□") != 3 || !strings.Contains(text, "é") {
		t.Errorf("printed as %q", text)
	}
}

func FuzzNoLetterOfAParagraphIsLost(f *testing.F) {
	p := testSpeller(f)
	for _, seed := range []string{"", "plain words", "a-b/c–d", "\u00ad\u00ad", "soft\u00adhyphen-ated and/or", "田 🔧 \x00 e\u0301", " \n\t", strings.Repeat("m", 200)} {
		f.Add(seed, 25.0)
	}
	f.Fuzz(func(t *testing.T, text string, width float64) {
		if !(width > 5 && width < 500) || len(text) > 2000 {
			return
		}
		lines := p.faces.broken(p.words(Words(text), style{size: 10}), width, 10)
		for _, l := range lines {
			trailing := 0.0
			if n := len(l.pieces); n > 0 && strings.HasSuffix(l.pieces[n-1].text, " ") {
				trailing = 3
			}
			if l.width > width+trailing+0.01 && len([]rune(textOf([]line{l}))) > 2 {
				t.Errorf("a line of %.2f mm in %.2f: %q", l.width, width, textOf([]line{l}))
			}
		}
		// Hyphens may be added at soft ones: neither is compared.
		bare := func(s string) string {
			return strings.Map(func(r rune) rune {
				if unicode.IsSpace(r) || r == '-' || r == '\u00ad' || r == '|' {
					return -1
				}
				return r
			}, s)
		}
		want, _ := Printable(text, p.faces.has)
		if got := bare(textOf(lines)); got != bare(want) {
			t.Errorf("%q is set as %q", want, got)
		}
	})
}
