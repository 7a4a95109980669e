package parts

import (
	"cmp"
	"iter"
	"maps"
	"slices"
	"strings"
)

// Catalogue is all parts and supersessions with their indexes. It is built at
// start and kept up to date part by part; it is not safe for use while it is
// changed. What it gives out is never changed afterwards and must not be
// changed by others.
type Catalogue struct {
	byNumber map[string]*entry
	numbers  sorted[string] // see Seal
	holders  map[string][]string
	words    *index
	kept     intern

	supersessions map[string]*Supersession
	ids           []string                   // in order, see Seal
	byOld         map[string][]*Supersession // the one that goes first is tried first
	byNew         map[string][]*Supersession

	technical
	unsealed bool
}

// entry is a part with the words it is found by.
type entry struct {
	Part
	id    docID
	class uint16   // see classOf
	named uint32   // how many of the words are of its names
	words []wordID // of title and other words, in order; then of its positions, where they are not among these
}

// own gives the words of the names of the part.
func (e *entry) own() []wordID { return e.words[:e.named] }

// NewCatalogue makes an empty catalogue.
func NewCatalogue() *Catalogue {
	return &Catalogue{
		byNumber: map[string]*entry{}, holders: map[string][]string{},
		words: newIndex(), kept: intern{},
		supersessions: map[string]*Supersession{}, byOld: map[string][]*Supersession{}, byNew: map[string][]*Supersession{},
		technical: newTechnical(),
	}
}

// Put takes a part in, in place of the one of that number.
func (c *Catalogue) Put(p Part) {
	c.kept.part(&p)
	e, old := &entry{Part: p}, c.byNumber[p.Number]
	if old == nil {
		c.numbers.add(p.Number)
	} else {
		c.forgetHeld(old)
	}
	c.words.enter(e, old)
	c.byNumber[p.Number] = e
	for _, held := range companions(&e.Part) {
		c.holders[held] = append(c.holders[held], p.Number)
	}
	c.unsealed = true
}

// Remove takes a part out; one that is not there is no error.
func (c *Catalogue) Remove(number string) {
	if e := c.byNumber[number]; e != nil {
		c.forgetHeld(e)
		c.words.leave(e)
		delete(c.byNumber, number)
		c.numbers.remove(number)
		c.unsealed = true
	}
}

func (c *Catalogue) forgetHeld(e *entry) {
	for _, held := range companions(&e.Part) {
		if left := without(c.holders[held], e.Number); len(left) > 0 {
			c.holders[held] = left
		} else {
			delete(c.holders, held)
		}
	}
}

// companions is every part that a part names: what a kit holds, and what is
// renewed with it. Each once.
func companions(p *Part) []string {
	var all []string
	for _, l := range append(slices.Clip(p.Contents), p.RenewWith...) {
		all = append(all, l.Part)
	}
	return sortedUnique(all)
}

// PutSupersession takes a supersession in, in place of the one of that
// identifier.
func (c *Catalogue) PutSupersession(s Supersession) {
	c.RemoveSupersession(s.ID)
	c.supersessions[s.ID] = &s
	c.ids = append(c.ids, s.ID)
	for _, old := range s.olds() {
		c.byOld[old] = append(c.byOld[old], &s)
		slices.SortFunc(c.byOld[old], byPrecedence)
	}
	for _, l := range s.New {
		c.byNew[l.Part] = append(c.byNew[l.Part], &s)
		slices.SortFunc(c.byNew[l.Part], byPrecedence)
	}
	c.unsealed = true
}

// RemoveSupersession takes a supersession out; one that is not there is no
// error.
func (c *Catalogue) RemoveSupersession(id string) {
	s := c.supersessions[id]
	if s == nil {
		return
	}
	delete(c.supersessions, id)
	c.ids = without(c.ids, id)
	for _, old := range s.olds() {
		c.byOld[old] = without(c.byOld[old], s)
	}
	for _, l := range s.New {
		c.byNew[l.Part] = without(c.byNew[l.Part], s)
	}
	c.unsealed = true
}

// byPrecedence puts that one first which decides when several supersessions
// of one part hold: the latest; of one day the one for named releases; then
// the one with more conditions. Check refuses two that this cannot tell apart.
func byPrecedence(a, b *Supersession) int {
	return cmp.Or(
		b.Effective.Compare(a.Effective),
		-compareBool(len(a.Releases) > 0, len(b.Releases) > 0),
		cmp.Compare(len(b.Together), len(a.Together)),
		strings.Compare(a.ID, b.ID),
	)
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

// Part finds a part by its exact number; nil when there is none.
func (c *Catalogue) Part(number string) *Part {
	if e := c.byNumber[number]; e != nil {
		return &e.Part
	}
	return nil
}

// Find finds a part by its number with or without separators, in any case;
// nil when there is none.
func (c *Catalogue) Find(number string) *Part {
	if p := c.Part(number); p != nil {
		return p
	}
	return c.ofNumber(NormalNumber(number))
}

// Supersession finds a supersession by its identifier; nil when there is none.
func (c *Catalogue) Supersession(id string) *Supersession { return c.supersessions[id] }

// Parts gives all parts, in any order.
func (c *Catalogue) Parts() iter.Seq[*Part] {
	return func(yield func(*Part) bool) {
		for _, e := range c.byNumber {
			if !yield(&e.Part) {
				return
			}
		}
	}
}

// Supersessions gives all supersessions, in any order.
func (c *Catalogue) Supersessions() iter.Seq[*Supersession] { return maps.Values(c.supersessions) }

// Len gives the number of parts.
func (c *Catalogue) Len() int { return len(c.byNumber) }

// SupersessionCount gives the number of supersessions.
func (c *Catalogue) SupersessionCount() int { return len(c.supersessions) }

// Sealed says whether everything put in is in its order; only then may the
// lists be read and questions asked.
func (c *Catalogue) Sealed() bool { return !c.unsealed }

// Seal puts numbers and words in order after a change.
func (c *Catalogue) Seal() {
	if !c.unsealed {
		return
	}
	c.numbers.settle(strings.Compare)
	slices.Sort(c.ids)
	c.technical.seal()
	c.words.settle()
	c.unsealed = false
}

// PartsAfter gives up to n parts in order of number, beginning after the given
// one.
func (c *Catalogue) PartsAfter(number string, n int) []*Part {
	var out []*Part
	for _, number := range after(c.numbers.all, number, n) {
		out = append(out, &c.byNumber[number].Part)
	}
	return out
}

// SupersessionsAfter gives up to n supersessions in order of identifier,
// beginning after the given one.
func (c *Catalogue) SupersessionsAfter(id string, n int) []*Supersession {
	var out []*Supersession
	for _, id := range after(c.ids, id, n) {
		out = append(out, c.supersessions[id])
	}
	return out
}

// after cuts n entries out of an ordered list.
func after(list []string, last string, n int) []string {
	i := 0
	if last != "" {
		var found bool
		if i, found = slices.BinarySearch(list, last); found {
			i++
		}
	}
	return list[i:min(i+n, len(list))]
}

// without gives the list without one entry, leaving the given one as it is.
func without[T comparable](list []T, gone T) []T {
	i := slices.Index(list, gone)
	if i < 0 {
		return list
	}
	return append(slices.Clone(list[:i]), list[i+1:]...)
}

// intern keeps one copy of the texts that many parts share: a catalogue of
// hundreds of thousands names few positions, units and cautions. Titles and
// other words are mostly of one part, and would only grow it.
type intern map[string]string

func (in intern) text(s string) string {
	if kept, ok := in[s]; ok {
		return kept
	}
	in[s] = s
	return s
}

// texts makes a list of its own, for the given one may be in use elsewhere.
func (in intern) texts(list []string) []string {
	if len(list) == 0 {
		return nil
	}
	kept := make([]string, len(list))
	for i, s := range list {
		kept[i] = in.text(s)
	}
	return kept
}

func (in intern) part(p *Part) {
	p.Unit, p.Caution = in.text(p.Unit), in.text(p.Caution)
	p.Positions, p.Releases, p.Traits = in.texts(p.Positions), in.texts(p.Releases), in.texts(p.Traits)
}
