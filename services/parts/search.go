package parts

import (
	"slices"
	"strconv"
)

// Found is a part that a search found.
type Found struct {
	Part  *Part
	Met   Met
	By    string // as which number of a part: "AP-2041"; empty where words were met
	Named bool   // a name of the part is exactly what was asked
}

// Met says how a part was found, the surest first.
type Met int

// How a part may be found; the ranking says when each applies.
const (
	ByNumber       Met = iota // its number is in the question
	ByOtherNumber             // it was known by that number elsewhere
	BySupersession            // it may take the place of a part found by its number
	Exactly                   // every word
	ByBeginnings              // every word, one or more only by what it begins with
	ByWrongLetter             // every word, one or more with one wrong letter
	ByNearNumber              // its number is one character away from the question
)

func (m Met) String() string {
	names := [...]string{"by its number", "by another number", "by supersession", "exactly", "by beginnings", "by one wrong letter", "by a number one character away"}
	if m < 0 || int(m) >= len(names) {
		return "Met(" + strconv.Itoa(int(m)) + ")"
	}
	return names[m]
}

var metBy = [...]Met{exact: Exactly, prefix: ByBeginnings, misspelt: ByWrongLetter}

// Search finds parts of the whole catalogue by numbers and words, the best
// first, at most limit; see ranking. The catalogue must be sealed.
func (c *Catalogue) Search(text string, limit int) []Found { return c.SearchWithin(nil, text, limit) }

// SearchWithin finds only parts of a subset; nil for all.
func (c *Catalogue) SearchWithin(s *Subset, text string, limit int) []Found {
	f := c.newFinder(s, limit)
	defer f.lent.giveBack()
	f.numbers(text)
	a := understand(text)
	if meanings := c.words.allMeant(a); meanings != nil {
		f.words(a, meanings)
		if len(f.found) == 0 {
			c.words.loosen(meanings)
			f.words(a, meanings)
		}
	}
	if len(f.found) == 0 && looksLikeNumber(text) {
		for _, e := range c.near(text) {
			f.add(e, Found{Met: ByNearNumber, By: e.Number})
		}
	}
	return f.found
}

// search finds what has the words, and takes none for a number.
func (c *Catalogue) search(a asked, limit int) []Found {
	f := c.newFinder(nil, limit)
	defer f.lent.giveBack()
	if meanings := c.words.allMeant(a); meanings != nil {
		f.words(a, meanings)
	}
	return f.found
}

// loosen allows one wrong letter in every word that no title has: what a part
// lists as a misspelling of its name may be one of another's.
func (x *index) loosen(meanings []meaning) {
	for i := range meanings {
		if m := &meanings[i]; m.wrong == nil && !x.printed(m.word) {
			m.wrong = x.oneWrong(m.word)
		}
	}
}

// finder is one search.
type finder struct {
	*index
	catalogue *Catalogue
	within    *set // nil for all
	limit     int
	lent      *scratch
	seen      bitmap // by rank: what was found already
	hits      bitmap // by rank: what is found in this step
	aside     uint16 // the bit of the directions asked for
	found     []Found
}

func (c *Catalogue) newFinder(s *Subset, limit int) *finder {
	f := &finder{index: c.words, catalogue: c, limit: max(limit, 0), lent: scratches.Get().(*scratch)}
	if s != nil {
		f.within = s.set(c)
	}
	f.seen, f.hits = f.lent.empty(len(f.docs)), f.lent.empty(len(f.docs))
	return f
}

func (f *finder) full() bool { return len(f.found) >= f.limit }

// add takes a part that was not found before, if it is of the subset.
func (f *finder) add(e *entry, as Found) {
	rank := docID(f.ranks[e.id])
	if f.full() || f.seen.has(rank) || f.within != nil && !f.within.has(e.id, new(int)) {
		return
	}
	f.seen.put(rank)
	as.Part = &e.Part
	f.found = append(f.found, as)
}

// numbers finds what the numbers in the question are of, and what may take
// its place.
func (f *finder) numbers(text string) {
	all, _ := f.catalogue.numbersIn(text)
	slices.SortFunc(all, func(a, b numbered) int {
		if a.other != b.other {
			return compareBool(a.other, b.other)
		}
		return int(f.ranks[a.entry.id]) - int(f.ranks[b.entry.id])
	})
	for _, n := range all {
		met := ByNumber
		if n.other {
			met = ByOtherNumber
		}
		f.add(n.entry, Found{Met: met, By: n.as})
	}
	f.successors(all)
}

// successors goes forward along all supersessions, step by step.
func (f *finder) successors(from []numbered) {
	seen := map[string]bool{}
	for _, n := range from {
		seen[n.entry.Number] = true
	}
	for len(from) > 0 && !f.full() {
		var next []numbered
		for _, n := range from {
			for _, number := range f.catalogue.replacements(n.entry.Number) {
				if e := f.catalogue.byNumber[number]; e != nil && !seen[number] {
					seen[number] = true
					next = append(next, numbered{entry: e, as: n.as})
				}
			}
		}
		slices.SortFunc(next, func(a, b numbered) int { return int(f.ranks[a.entry.id]) - int(f.ranks[b.entry.id]) })
		for _, n := range next {
			f.add(n.entry, Found{Met: BySupersession, By: n.as})
		}
		from = next
	}
}

// words finds what has all the words: by name first, then by how well they are
// met.
func (f *finder) words(a asked, meanings []meaning) {
	f.aside = 1 << directionsOf(a.directions)
	for _, form := range a.names() {
		f.namedBy(f.names.of(form))
	}
	f.take(Found{Met: Exactly, Named: true})
	lent := f.lent.used
	for how := exact; how < unmet && !f.full(); how++ {
		f.tier(meanings, how)
		f.lent.used = lent
	}
}

func (f *finder) namedBy(keys []key) {
	from := 0
	for _, k := range keys {
		if f.within == nil || f.within.has(k.doc, &from) {
			f.hit(k.doc)
		}
	}
}

// hit notes a part, unless the directions asked for rule it out.
func (f *finder) hit(id docID) {
	if f.ranking.aside[id]&f.aside == 0 {
		f.hits.put(docID(f.ranks[id]))
	}
}

// take adds what was hit, in the order of the ranks, and forgets the rest.
func (f *finder) take(as Found) {
	for rank := range f.hits.each {
		if f.full() {
			break
		}
		f.takeRank(rank, as)
	}
	f.hits.wipe()
}

func (f *finder) takeRank(rank docID, as Found) {
	if !f.seen.has(rank) {
		f.seen.put(rank)
		as.Part = &f.docs[f.ranked.all[rank].doc].Part
		f.found = append(f.found, as)
	}
}
