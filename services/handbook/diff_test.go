package handbook_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/handbook"
)

func bookOf(sections ...handbook.MadeSection) *handbook.Handbook {
	return &handbook.Handbook{Chapters: []handbook.MadeChapter{{Number: 1, Title: "All", Sections: sections}}}
}

func said(id string, texts ...string) handbook.MadeSection {
	s := handbook.MadeSection{ID: id, Title: strings.ToUpper(id)}
	for _, text := range texts {
		s.Blocks = append(s.Blocks, handbook.Block{Text: handbook.Said(text)})
	}
	return s
}

// long is a text of more than a sentence shows, with a value in it.
func long(value string) string {
	return "Slow down well before the bend, and choose the gear in which the engine will turn at the same " + value + " as before in every one of the gears below it."
}

func table(value string, rows int) handbook.MadeSection {
	t := &handbook.Table{Caption: "Speeds", Columns: []handbook.Column{{Head: "x"}, {Head: "y"}}, Groups: []handbook.Group{{}}}
	for i := range rows {
		t.Groups[0].Rows = append(t.Groups[0].Rows, handbook.Row{Cells: []handbook.Cell{{Words: handbook.Said(fmt.Sprint(i))}, {Words: handbook.Said(value)}}})
	}
	return handbook.MadeSection{ID: "t", Title: "T", Blocks: []handbook.Block{{Table: t}}}
}

func noted(note string) handbook.MadeSection {
	s := table("25", 2)
	s.Blocks[0].Table.Note = note
	return s
}

func TestTheDifferenceOfTwoIssuesIsSaidSectionBySection(t *testing.T) {
	steps := func(texts ...string) handbook.MadeSection {
		s := handbook.MadeSection{ID: "s", Title: "S", Blocks: []handbook.Block{{}}}
		for _, text := range texts {
			s.Blocks[0].Steps = append(s.Blocks[0].Steps, handbook.Item{Text: handbook.Said(text)})
		}
		return s
	}
	for _, c := range []struct {
		name        string
		before, now *handbook.Handbook
		want        []string
	}{
		{"nothing differs from itself", bookOf(said("a", "x")), bookOf(said("a", "x")), nil},
		{"a section is new", bookOf(said("a", "x")), bookOf(said("a", "x"), said("winch", "pull")), []string{"added winch “WINCH” is new."}},
		{"a section is gone", bookOf(said("a", "x"), said("winch", "pull")), bookOf(said("a", "x")), []string{"removed winch “WINCH” is not in it any more."}},
		{"a value is another", bookOf(said("a", "25 psi")), bookOf(said("a", "27 psi")), []string{"changed a “25 psi” is now “27 psi”."}},
		{"a step more", bookOf(steps("one", "two")), bookOf(steps("one", "and", "two")), []string{"changed s New: “and”."}},
		{"a step less", bookOf(steps("one", "two")), bookOf(steps("two")), []string{"changed s Left out: “one”."}},
		{"a value within a long text is shown with what is around it", bookOf(said("a", long("20 mph"))), bookOf(said("a", long("21 mph"))),
			[]string{"changed a “… turn at the same 20 mph as before in …” is now “… turn at the same 21 mph as before in …”."}},
		{"many rows of a table are counted", bookOf(table("25", 7)), bookOf(table("27", 7)), []string{"changed t 7 rows of the table “Speeds” are new or have other values."}},
		{"few rows are told", bookOf(table("25", 1)), bookOf(table("27", 1)), []string{"changed t “0, 25” is now “0, 27”."}},
		{"many rows that are gone are counted", bookOf(table("25", 9)), bookOf(table("25", 1)), []string{"changed t 8 rows of the table “Speeds” are left out."}},
		{"the note below a table", bookOf(noted("on old tyres")), bookOf(noted("on new tyres")), []string{"changed t The head or the note of the table “Speeds” is another."}},
		{"a section that only moved is the same", bookOf(said("a", "x"), said("b", "y")), bookOf(said("b", "y"), said("a", "x")), nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []string
			for _, one := range handbook.Compare(c.before, c.now) {
				got = append(got, fmt.Sprintf("%s %s %s", []string{"", "added", "removed", "changed"}[one.Kind], one.Section, one.Sentence))
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

func TestOnlyWhatIsNewHasABarInTheMargin(t *testing.T) {
	before := bookOf(said("a", "one", "two", "three"))
	now := bookOf(said("a", "one", "deux", "three"), said("b", "all of it"))
	handbook.Compare(before, now)
	var marked []string
	for _, s := range now.Chapters[0].Sections {
		for _, b := range s.Blocks {
			if b.Changed {
				marked = append(marked, b.Text.String())
			}
		}
	}
	if want := []string{"deux", "all of it"}; !slices.Equal(marked, want) {
		t.Errorf("marked %q, want %q", marked, want)
	}
}

// The dumb twin: of all ways of leaving out, the longest that leaves two lists
// equal is what stays. As many are marked as are then left over.
func TestMarksAreAsFewAsCanBe(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		letters := rapid.SliceOfN(rapid.SampledFrom([]string{"a", "b", "c"}), 1, 7)
		before, now := letters.Draw(t, "before"), letters.Draw(t, "now")
		h := bookOf(said("s", now...))
		changes := handbook.Compare(bookOf(said("s", before...)), h)
		marked := 0
		for _, b := range h.Chapters[0].Sections[0].Blocks {
			if b.Changed {
				marked++
			}
		}
		if want := len(now) - longestCommon(before, now); marked != want {
			t.Fatalf("%d are marked, want %d", marked, want)
		}
		if (len(changes) == 0) != slices.Equal(before, now) {
			t.Fatalf("%v", changes)
		}
	})
}

// longestCommon tries every choice of the first list.
func longestCommon(a, b []string) int {
	best := 0
	for choice := range 1 << len(a) {
		rest, n := b, 0
		ok := true
		for i := range a {
			if choice>>i&1 == 0 {
				continue
			}
			at := slices.Index(rest, a[i])
			if at < 0 {
				ok = false
				break
			}
			rest, n = rest[at+1:], n+1
		}
		if ok {
			best = max(best, n)
		}
	}
	return best
}
