package typeset

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference before committing it")

// golden compares with a file of testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got == string(want) {
		return
	}
	have, wanted := strings.Split(got, "\n"), strings.Split(string(want), "\n")
	for i := range max(len(have), len(wanted)) {
		if i >= len(have) || i >= len(wanted) || have[i] != wanted[i] {
			t.Fatalf("%s, line %d: got %q, want %q", path, i+1, have[min(i, len(have)-1)], wanted[min(i, len(wanted)-1)])
		}
	}
}

// transcript is a document as its pages read, line by line: what changed has a
// stroke before it, and what stands lower has a line of its own.
func transcript(l *laid) string {
	var b strings.Builder
	for _, p := range l.pages {
		fmt.Fprintf(&b, "---- page %d", p.number)
		if !p.bare && p.chapter != "" {
			fmt.Fprintf(&b, ": %s", p.chapter)
		}
		b.WriteString(" ----\n")
		for _, st := range p.stands {
			marks := slices.Clone(st.marks)
			slices.SortStableFunc(marks, func(m, n mark) int { return m.cell - n.cell })
			line, end := "", 0.0
			for _, m := range marks {
				switch m.kind {
				case letters:
					if m.x > end+2 && line != "" {
						line += "  "
					}
					line, end = line+m.text, m.x+m.w
				case frame:
					line += "[ ] "
				case drawing:
					line += "(drawing)"
				case rule:
					if m.grey == 0 && m.thick == 0.2 {
						line += " ____ "
					}
				}
			}
			if line = strings.TrimRight(line, " "); line == "" {
				continue
			}
			if st.bar {
				line = "| " + line
			}
			b.WriteString(line + "\n")
		}
	}
	return strings.ReplaceAll(b.String(), "\u00a0", "~")
}

func TestADocumentReadsAsBefore(t *testing.T) {
	for _, paper := range []Paper{A5, A4} {
		l, err := lay(sample(), Print{Paper: paper, Duplex: true})
		if err != nil {
			t.Fatal(err)
		}
		golden(t, "sample-"+string(paper)+".txt", transcript(l))
	}
	page, err := HTML(sample(), "/style.css")
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "sample.html", string(page))
}

func TestChaptersAndBlankPagesOfASheetPrintedOnBothSides(t *testing.T) {
	d := Document{Title: "T", Blocks: []Block{
		Heading{Level: 1, Text: "One"}, Paragraph{Runs: Words("x")},
		PageBreak{Front: true},
		Heading{Level: 1, Text: "Two"}, Paragraph{Runs: Words("y")},
		PageBreak{}, PageBreak{Front: true},
	}}
	pages := func(duplex bool) (all []string) {
		l, err := lay(d, Print{Paper: A5, Duplex: duplex})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range l.pages {
			all = append(all, fmt.Sprintf("%d %d %s", p.number, len(p.stands), p.chapter))
		}
		return all
	}
	if got, want := pages(true), []string{"1 3 One", "2 0 ", "3 2 Two"}; !slices.Equal(got, want) {
		t.Errorf("on both sides: %q, want %q", got, want)
	}
	if got, want := pages(false), []string{"1 3 One", "2 2 Two"}; !slices.Equal(got, want) {
		t.Errorf("on one side: %q, want %q", got, want)
	}
}

func TestTheMarginForTheBindingChangesSides(t *testing.T) {
	for _, paper := range []Paper{A4, A5, USLetter} {
		s, err := sheetOf(paper)
		if err != nil {
			t.Fatal(err)
		}
		if s.left(1, true) != s.inner || s.left(2, true) != s.outer || s.left(2, false) != s.inner {
			t.Errorf("%s: the text begins at %.1f, %.1f, %.1f", paper, s.left(1, true), s.left(2, true), s.left(2, false))
		}
		if s.inner <= s.outer || s.inner < 15 {
			t.Errorf("%s: a margin of %.1f mm for the binding, %.1f outside", paper, s.inner, s.outer)
		}
	}
}

func TestPagesThatFollowEachOtherAreMergedInTheIndex(t *testing.T) {
	if got, want := ranges([]int{1, 3, 4, 5, 7, 9, 10}), [][2]int{{1, 1}, {3, 5}, {7, 7}, {9, 10}}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	got := sortedTerms(map[string][]int{
		"oil, grade": {4, 4}, "oil": {7, 5, 6}, "Ölwanne": {2}, "Zündung": {1}, "oil, filter": {1}, "brakes": {3},
	}, "de")
	var said []string
	for _, t := range got {
		said = append(said, fmt.Sprintf("%s %v %v", t.text, t.sub, t.pages))
	}
	want := []string{"brakes false [3]", "oil false [5 6 7]", "filter true [1]", "grade true [4]", "Ölwanne false [2]", "Zündung false [1]"}
	if !slices.Equal(said, want) {
		t.Errorf("got %q, want %q", said, want)
	}
}

func TestColumnsThatMoveToTheNextPageLoseNothing(t *testing.T) {
	line := func(text string, height float64, keep Keep) slab {
		return slab{Strip: Strip{Height: height, Keep: keep}, marks: []mark{{text: text}}}
	}
	set := slab{Strip: Strip{Keep: Hard}, set: columnsOf([]slab{line("a", 5, Free), line("b", 5, Free), line("c", 5, Free)}, 2, 0, 50)}
	// The columns fit below the first line, but not with what they are kept with.
	pages := paginate([]slab{line("first", 60, Free), set, line("last", 60, Free)}, 100, false)
	var got []string
	for _, p := range pages {
		text := ""
		for _, m := range p.marks() {
			text += m.text + " "
		}
		got = append(got, text)
	}
	if want := []string{"first ", "a b c last "}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	// Columns that are higher than a page go on with the next.
	var tall []slab
	for i := range 50 {
		tall = append(tall, line(fmt.Sprint(i), 5, Free))
	}
	pages = paginate([]slab{line("first", 60, Free), {set: columnsOf(tall, 2, 0, 50)}}, 100, false)
	n := 0
	for _, p := range pages {
		for _, m := range p.marks() {
			if m.text == fmt.Sprint(n) {
				n++
			}
		}
	}
	if n != 50 || len(pages) != 2 {
		t.Errorf("%d of 50 lines on %d pages", n, len(pages))
	}
}
