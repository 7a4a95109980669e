package parts_test

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"halfshaft/services/parts"
)

func listed(found []parts.Found) []string {
	var out []string
	for _, f := range found {
		out = append(out, fmt.Sprintf("%s, %s", f.Part.Number, f.Met))
	}
	return out
}

func judged(found []parts.Found) []string {
	out := listed(found)
	for i, f := range found {
		out[i] += fmt.Sprintf(", named %t", f.Named)
	}
	return out
}

// searched are words that make one another's plurals, beginnings, wrong
// letters and halves.
var searched = strings.Fields("seal seals sealing lock tab locktab tabs bolt u ubolt bolts bush bushes box boxes gear gearbox gearboxes " +
	"bearing bearings bear half hall halfshaft m1 m8 m10 m100 12 v 12v 205 r16 205r16 left lh right front rear back hand side number plate " +
	"the a new car pet carpet carp et swivel swival leaf leaves battery batteries x1 1")

var searchedNumbers = strings.Fields("AP-1 AP1 A-P1 AP-10 AP-100 AP-1001 AP-1010 AP-1010-L AP1010L 205R16 77-12 771-2 B-100 B-1000 TAB BUSH-BOX")

func drawPhrase(t *rapid.T, label string, most int) string {
	var b strings.Builder
	for i := range rapid.IntRange(1, most).Draw(t, label) {
		if i > 0 {
			b.WriteString(pick(t, "joint", " ", " ", "-", ", "))
		}
		word := pick(t, "word", searched...)
		if rapid.IntRange(0, 3).Draw(t, "as one") == 0 {
			word = pick(t, "pair", "lock tab", "lock-tab", "locktab", "u-bolt", "ubolt", "tab lock", "gear box", "gearbox")
		}
		b.WriteString(word)
	}
	return b.String()
}

func drawSearched(t *rapid.T) parts.Part {
	p := parts.Part{
		Number: pick(t, "number", searchedNumbers...), Title: drawPhrase(t, "title", 4),
		Status: pick(t, "status", parts.Orderable, parts.UseUp, parts.Unavailable),
		Hand:   pick(t, "hand", parts.EitherHand, parts.EitherHand, parts.Left, parts.Right),
	}
	for range rapid.IntRange(0, 2).Draw(t, "words") {
		p.Words = append(p.Words, drawPhrase(t, "phrase", 3))
	}
	for range rapid.IntRange(0, 2).Draw(t, "positions") {
		p.Positions = append(p.Positions, pick(t, "position", "gear-box", "hub-front-left", "hub-front-right", "hub-rear", "lock", "swivel-seal-left"))
	}
	for range rapid.IntRange(0, 2).Draw(t, "others") {
		p.OtherNumbers = append(p.OtherNumbers, pick(t, "other", append(searchedNumbers, "77/12", "X-9", "X 9")...))
	}
	return p
}

func drawText(t *rapid.T) string {
	switch rapid.IntRange(0, 5).Draw(t, "text") {
	case 0:
		return strings.ReplaceAll(pick(t, "number", append(searchedNumbers, "AP-1011", "7712", "X9")...), "-", pick(t, "mark", "", " ", "-", "/"))
	case 1:
		return pick(t, "number", searchedNumbers...) + " " + drawPhrase(t, "and", 2)
	case 2:
		text := []byte(drawPhrase(t, "asked", 3))
		i := rapid.IntRange(0, len(text)-1).Draw(t, "at")
		switch rapid.IntRange(0, 2).Draw(t, "mistake") {
		case 0:
			return string(slices.Delete(text, i, i+1))
		case 1:
			return string(slices.Insert(text, i, 'e'))
		}
		text[i] = 'l'
		return string(text)
	}
	text := drawPhrase(t, "asked", 3)
	return text[:rapid.IntRange(min(3, len(text)), len(text)).Draw(t, "cut")]
}

func TestASearchThatReadsEveryPartAgrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, left := parts.NewCatalogue(), map[string]parts.Part{}
		var supersessions []parts.Supersession
		for i := range rapid.IntRange(0, 4).Draw(t, "supersessions") {
			s := parts.Supersession{ID: fmt.Sprintf("S%d", i), Old: pick(t, "old", searchedNumbers...), New: lines(line(pick(t, "new", searchedNumbers...), 1))}
			c.PutSupersession(s)
			supersessions = append(supersessions, s)
		}
		old := c.Subset(searchedNumbers[:5]) // made before the parts came
		for range rapid.IntRange(1, 4).Draw(t, "rounds") {
			for range rapid.IntRange(0, 12).Draw(t, "changes") {
				p := drawSearched(t)
				if rapid.IntRange(0, 3).Draw(t, "kind") == 0 {
					c.Remove(p.Number)
					delete(left, p.Number)
				} else {
					c.Put(p)
					left[p.Number] = p
				}
			}
			c.Seal()
			n := naive{parts: slices.Collect(maps.Values(left)), supersessions: supersessions}
			some := map[string]bool{}
			for _, number := range searchedNumbers[:5] {
				some[number] = true
			}
			for range 10 {
				text, limit := drawText(t), rapid.IntRange(1, 12).Draw(t, "limit")
				if diff := cmp.Diff(n.search(nil, text, limit), judged(c.Search(text, limit))); diff != "" {
					t.Fatalf("%q (-want +got):\n%s", text, diff)
				}
				for _, subset := range []*parts.Subset{old, c.Subset(searchedNumbers[:5])} {
					if diff := cmp.Diff(n.search(some, text, limit), judged(c.SearchWithin(subset, text, limit))); diff != "" {
						t.Fatalf("%q within a subset (-want +got):\n%s", text, diff)
					}
				}
			}
		}
	})
}

// In a catalogue of this size common words are kept as bits, the best are
// looked for in the order of the ranking, and that is given up in some cases.
func TestInALargeCatalogueASearchThatReadsEveryPartAgrees(t *testing.T) {
	const size = 17_000
	r := rand.New(rand.NewPCG(3, 4))
	of := func(list []string) string {
		i := r.IntN(len(list))
		return list[i*i/len(list)] // the first more often
	}
	n, c := naive{}, parts.NewCatalogue()
	for i := range size {
		p := part(fmt.Sprintf("L-%05d", i), of(searched)+" "+of(searched)+", "+of(searched), words(of(searched)+" "+of(searched)),
			at([]string{"hub-front-left", "hub-rear-right", "gear-box"}[r.IntN(3)]), status(parts.Status(1+r.IntN(3))))
		if i%4 != 0 && p.Status == parts.Orderable {
			p.Title = "Cover of " + fmt.Sprint(i) // so that what is common comes late
		}
		n.parts = append(n.parts, p)
		c.Put(p)
	}
	c.Seal()
	few, many := map[string]bool{}, map[string]bool{}
	for i := range size {
		many[n.parts[i].Number] = i%3 > 0
		if i%100 == 0 {
			few[n.parts[i].Number] = true
		}
	}
	maps.DeleteFunc(many, func(_ string, in bool) bool { return !in })
	withinFew, withinMany := c.Subset(slices.Collect(maps.Keys(few))), c.Subset(slices.Collect(maps.Keys(many)))
	for i := range 24 {
		var asked []string
		for range 1 + r.IntN(3) {
			w := of(searched)
			asked = append(asked, w[:max(min(3, len(w)), len(w)-r.IntN(3))])
		}
		text, limit := strings.Join(asked, " "), []int{1, 10, 300, size}[i%4]
		for _, one := range []struct {
			name   string
			subset *parts.Subset
			in     map[string]bool
		}{{"all", nil, nil}, {"few", withinFew, few}, {"many", withinMany, many}} {
			want, got := n.search(one.in, text, limit), judged(c.SearchWithin(one.subset, text, limit))
			if diff := cmp.Diff(want[:min(20, len(want))], got[:min(20, len(got))]); diff != "" || !slices.Equal(want, got) {
				t.Fatalf("%q within %s, %d of %d (-want +got):\n%s", text, one.name, len(got), len(want), diff)
			}
		}
	}
}
