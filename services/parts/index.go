package parts

import (
	"cmp"
	"hash/maphash"
	"slices"
	"sort"
)

// index finds parts by words and numbers. It is brought up to date part by
// part, and must be settled before it is asked.
type index struct {
	vocabulary
	names   phrases // the parts that a phrase is a name of, see asked.names
	pairs   phrases // the parts that have two words side by side, by what they make together
	numbers phrases // the parts of a number, see numberKeys

	docs  []*entry // by docID; nil where none is
	free  []docID  // for parts to come
	gone  []docID  // free once settled
	epoch uint64   // counts parts that came or went; see Subset

	ranking
}

func newIndex() *index { return &index{vocabulary: vocabulary{ids: map[string]wordID{}}} }

// enter takes a part in, in place of the old one of that number; nil for none.
func (x *index) enter(e, old *entry) {
	if old == nil {
		e.id = x.newID()
		x.epoch++
	} else {
		e.id = old.id
		x.drop(old)
	}
	x.docs[e.id] = e
	x.aside[e.id] = asideFor(&e.Part)
	r := x.read(&e.Part)
	e.class, e.words, e.named = classOf(&e.Part, r.title), append(slices.Clip(r.own), r.places...), uint32(len(r.own))
	x.rankAnew(e, old)
	for _, id := range e.words {
		x.with[id].add(e.id)
	}
	for _, id := range r.printed {
		x.titled[id]++
	}
	x.names.put(r.names, e.id)
	x.pairs.put(r.pairs, e.id)
	x.numbers.put(numberKeys(&e.Part), e.id)
}

func (x *index) newID() docID {
	if n := len(x.free); n > 0 {
		id := x.free[n-1]
		x.free = x.free[:n-1]
		return id
	}
	x.docs, x.aside = append(x.docs, nil), append(x.aside, 0)
	return docID(len(x.docs) - 1)
}

// leave takes a part out.
func (x *index) leave(e *entry) {
	x.drop(e)
	x.rankAnew(nil, e)
	x.gone = append(x.gone, e.id)
	x.epoch++
}

func (x *index) drop(e *entry) {
	for _, id := range e.words {
		x.with[id].remove(e.id)
	}
	r := x.read(&e.Part)
	for _, id := range r.printed {
		x.titled[id]--
	}
	x.names.take(r.names, e.id)
	x.pairs.take(r.pairs, e.id)
	x.numbers.take(numberKeys(&e.Part), e.id)
}

// settle puts everything in order after a change.
func (x *index) settle() {
	x.vocabulary.settle(len(x.docs))
	x.names.settle(key.compare)
	x.pairs.settle(key.compare)
	x.numbers.settle(key.compare)
	x.rank(x.docs)
	for _, id := range x.gone {
		x.docs[id] = nil
	}
	x.free, x.gone = append(x.free, x.gone...), nil
}

// partReading is what a part is found by.
type partReading struct {
	own, places  []wordID // of its names; of its positions, where they are not among these
	names, pairs []uint64 // keys of its names, and of pairs of words side by side
	title        int      // words of the title
	printed      []wordID // of the title, each once
}

// read takes the names and positions of a part apart.
func (x *index) read(p *Part) partReading {
	r := partReading{title: -1}
	for name := range p.titles {
		tokens := read(name)
		for _, t := range tokens {
			if !t.noise {
				r.own = append(r.own, x.id(t.text))
			}
		}
		if r.title < 0 { // it is the first of the names
			r.title, r.printed = len(tokens), slices.Clone(r.own)
		}
		a := understood(tokens)
		for _, form := range a.names() {
			r.names = append(r.names, hash(form))
		}
		r.addPairs(tokens)
	}
	slices.Sort(r.own)
	r.own = slices.Compact(r.own)
	slices.Sort(r.printed)
	r.printed = slices.Compact(r.printed)
	for _, position := range p.Positions {
		tokens := read(position)
		for _, t := range tokens {
			if id := x.id(t.text); !slices.Contains(r.own, id) {
				r.places = append(r.places, id)
			}
		}
		r.addPairs(tokens)
	}
	slices.Sort(r.places)
	r.places = slices.Compact(r.places)
	r.names, r.pairs = eachKeyOnce(r.names), eachKeyOnce(r.pairs)
	return r
}

func (r *partReading) addPairs(tokens []token) {
	for i := range tokens {
		if tokens[i].glued {
			r.pairs = append(r.pairs, hash(tokens[i-1].text+tokens[i].text))
		}
	}
}

func eachKeyOnce(keys []uint64) []uint64 {
	slices.Sort(keys)
	return slices.Compact(keys)
}

// phrases are the parts that have a phrase, in order of its key and then of
// the part.
type phrases struct{ sorted[key] }

// key is a phrase and a part that has it. Of the phrase 64 bits are kept: two
// of a million are taken for each other in one of tens of millions of
// catalogues.
type key struct {
	high, low uint32 // not one number, which would take a quarter more room
	doc       docID
}

var seed = maphash.MakeSeed()

func hash(text string) uint64 { return maphash.String(seed, text) }

func keyOf(phrase uint64, doc docID) key { return key{uint32(phrase >> 32), uint32(phrase), doc} }

func (k key) phrase() uint64 { return uint64(k.high)<<32 | uint64(k.low) }

func (k key) compare(other key) int {
	if a, b := k.phrase(), other.phrase(); a != b {
		return cmp.Compare(a, b)
	}
	return cmp.Compare(k.doc, other.doc)
}

func (p *phrases) put(all []uint64, doc docID) {
	for _, phrase := range all {
		p.add(keyOf(phrase, doc))
	}
}

func (p *phrases) take(all []uint64, doc docID) {
	for _, phrase := range all {
		p.remove(keyOf(phrase, doc))
	}
}

// of gives the parts that have a phrase, in order.
func (p *phrases) of(text string) []key {
	phrase := hash(text)
	from, _ := slices.BinarySearchFunc(p.all, keyOf(phrase, 0), key.compare)
	n := sort.Search(len(p.all)-from, func(i int) bool { return p.all[from+i].phrase() != phrase })
	return p.all[from : from+n]
}
