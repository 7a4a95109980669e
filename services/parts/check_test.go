package parts_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/fault"
	"halfshaft/services/parts"
)

func texts(fields []fault.Field) []string {
	var out []string
	for _, f := range fields {
		out = append(out, fmt.Sprintf("%s: got %s", f.Name, f.Got))
	}
	return out
}

func TestEveryFaultOfACatalogueIsTold(t *testing.T) {
	replaced := func(id, old string, new ...string) parts.Supersession {
		s := parts.Supersession{ID: id, Old: old, Effective: day("2015-01-01")}
		for _, n := range new {
			s.New = append(s.New, line(n, 1))
		}
		return s
	}
	a, b, c := part("A-1", "A"), part("B-1", "B"), part("C-1", "C")
	gone := part("G-1", "G", status(parts.Unavailable))
	for _, test := range []struct {
		name          string
		parts         []parts.Part
		supersessions []parts.Supersession
		want          []string
	}{
		{name: "a sound catalogue has none", parts: []parts.Part{a, b, c},
			supersessions: []parts.Supersession{replaced("S1", "A-1", "B-1"), replaced("S2", "B-1", "C-1")}},
		{name: "a circle is told with its path, once", parts: []parts.Part{a, b, c},
			supersessions: []parts.Supersession{replaced("S1", "A-1", "B-1"), replaced("S2", "B-1", "C-1"), replaced("S3", "C-1", "A-1")},
			want:          []string{"rows[supersessions/S1].new_parts: got A-1 -> B-1 -> C-1 -> A-1"}},
		{name: "a circle behind a chain is told without the chain", parts: []parts.Part{a, b, c},
			supersessions: []parts.Supersession{replaced("S1", "A-1", "B-1"), replaced("S2", "B-1", "C-1"), replaced("S3", "C-1", "B-1")},
			want:          []string{"rows[supersessions/S2].new_parts: got B-1 -> C-1 -> B-1"}},
		{name: "parts that nobody knows are told wherever they are named",
			parts:         []parts.Part{part("A-1", "A", renew(line("X-1", 1)), holds(line("X-2", 1)))},
			supersessions: []parts.Supersession{{ID: "S1", Old: "X-3", New: lines(line("X-4", 1)), Together: []string{"X-5"}}},
			want: []string{"rows[parts/A-1].contents[0].part: got X-2", "rows[parts/A-1].renew_with[0].part: got X-1",
				"rows[supersessions/S1].old_part: got X-3", "rows[supersessions/S1].new_parts[0].part: got X-4", "rows[supersessions/S1].together_with[0]: got X-5"}},
		{name: "a number that differs by separators only is told", parts: []parts.Part{part("A-1", "A"), part("A1", "A")},
			want: []string{"rows[parts/A-1].name: got A-1"}},
		{name: "a kit that holds itself is told", parts: []parts.Part{part("A-1", "A", holds(line("B-1", 1))), part("B-1", "B", holds(line("A-1", 1)))},
			want: []string{"rows[parts/A-1].contents: got A-1 -> B-1 -> A-1"}},
		{name: "a dead end is told with its path", parts: []parts.Part{a, b, gone},
			supersessions: []parts.Supersession{replaced("S1", "A-1", "B-1"), replaced("S2", "B-1", "G-1")},
			want:          []string{"rows[supersessions/S2].new_parts[0].part: got A-1 -> B-1 -> G-1"}},
		{name: "a drawing opens a dead end", parts: []parts.Part{a, part("G-1", "G", status(parts.Unavailable), drawing("D-1"))},
			supersessions: []parts.Supersession{replaced("S1", "A-1", "G-1")}},
		{name: "an older part that may stand in opens a dead end", parts: []parts.Part{a, gone},
			supersessions: []parts.Supersession{{ID: "S1", Old: "A-1", New: lines(line("G-1", 1)), TwoWay: true}}},
		{name: "two that nothing tells apart are told", parts: []parts.Part{a, b, c},
			supersessions: []parts.Supersession{replaced("S1", "A-1", "B-1"), replaced("S2", "A-1", "C-1")},
			want:          []string{"rows[supersessions/S2].effective_date: got 2015-01-01"}},
		{name: "two for other releases are told apart", parts: []parts.Part{a, b, c}, supersessions: []parts.Supersession{
			{ID: "S1", Old: "A-1", New: lines(line("B-1", 1)), Releases: []string{"R1"}},
			{ID: "S2", Old: "A-1", New: lines(line("C-1", 1)), Releases: []string{"R2"}}}},
	} {
		t.Run(test.name, func(t *testing.T) {
			if diff := cmp.Diff(test.want, texts(catalogueOf(test.parts, test.supersessions).Check(nil))); diff != "" {
				t.Errorf("-want +got:\n%s", diff)
			}
		})
	}
}

func TestTheShedIsSound(t *testing.T) {
	if found := catalogueOf(shedParts(), shedSupersessions()).Check(nil); len(found) > 0 {
		t.Error(found)
	}
	for _, p := range shedParts() {
		if found := p.Validate(); len(found) > 0 {
			t.Error(p.Number, found)
		}
	}
	for _, s := range shedSupersessions() {
		if found := s.Validate(); len(found) > 0 {
			t.Error(s.ID, found)
		}
	}
}

func TestEveryFaultOfOneRecordIsTold(t *testing.T) {
	p := parts.Part{
		Number: "A 1", Title: " ", Words: []string{"x", "x"}, Positions: []string{"Gear Box", "hub-front-right"}, Hand: parts.Left,
		Minimum: -1, Contents: lines(line("A 1", 1)), RenewWith: lines(line("B-1", -1), line("B-1", 1)),
	}
	want := []string{
		"name: got A 1", "title: got  ", "words[1]: got x", "positions[0]: got Gear Box", "positions[1]: got hub-front-right",
		"minimum_quantity: got -1", "status: got ", "contents[0].part: got A 1", "contents[0].part: got A 1",
		"renew_with[0].quantity: got -1", "renew_with[1].part: got B-1",
	}
	if diff := cmp.Diff(want, texts(p.Validate())); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	s := parts.Supersession{Old: "A-1", New: lines(line("A-1", 1), line("B-1", 1)), TwoWay: true, Together: []string{"A-1"}, Releases: []string{""}}
	want = []string{"name: got ", "new_parts[0].part: got A-1", "two_way: got true", "releases[0]: got ", "together_with[0]: got A-1"}
	if diff := cmp.Diff(want, texts(s.Validate())); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

func TestACircleOfAnyLengthIsFoundAndALongChainIsNone(t *testing.T) {
	const n = 20000
	c := parts.NewCatalogue()
	for i := range n {
		c.Put(part(fmt.Sprintf("P-%05d", i), "P"))
		if i > 0 {
			c.PutSupersession(parts.Supersession{ID: fmt.Sprintf("S%05d", i), Old: fmt.Sprintf("P-%05d", i-1), New: lines(line(fmt.Sprintf("P-%05d", i), 1))})
		}
	}
	if found := c.Check(nil); len(found) > 0 {
		t.Fatal(found[0])
	}
	c.PutSupersession(parts.Supersession{ID: "S-back", Old: fmt.Sprintf("P-%05d", n-1), New: lines(line("P-00000", 1))})
	found := c.Check(nil)
	if len(found) != 1 || strings.Count(found[0].Got, "->") != n {
		t.Errorf("%d faults", len(found))
	}
}
