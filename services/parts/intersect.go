package parts

import (
	"cmp"
	"slices"
)

// tier finds the parts in which no word is met worse than that. Those in which
// all are met better were found before.
func (f *finder) tier(meanings []meaning, how quality) {
	sets := make([]*set, 0, len(meanings)+1)
	worse := how == exact
	for i := range meanings {
		m := &meanings[i]
		worse = worse || how == prefix && m.from < m.to || how == misspelt && len(m.wrong) > 0
		s := f.meant(m, how)
		if s.n == 0 {
			return
		}
		sets = append(sets, s)
	}
	if !worse {
		return // the same as the step before
	}
	if f.within != nil {
		sets = append(sets, f.within)
	}
	slices.SortFunc(sets, func(a, b *set) int { return cmp.Compare(a.n, b.n) })
	as := Found{Met: metBy[how]}
	if !f.walk(sets, as) {
		f.intersect(sets)
		f.take(as)
	}
}

// meant gives the parts that meet a word at least that well. Where these are
// of several words, each part has to be asked.
func (f *finder) meant(m *meaning, how quality) *set {
	if how == exact && len(m.exact) == 1 && len(m.together) == 0 {
		return &f.with[m.exact[0]]
	}
	s := &set{}
	f.eachWord(m, how, func(one *set) { s.n += one.n })
	for _, with := range m.together {
		s.n += len(with)
	}
	s.ask = func(id docID) bool { return m.within(f.index, f.docs[id], f.docs[id].words) <= how }
	s.count = func() { f.count(s, m, how) }
	return s
}

func (f *finder) eachWord(m *meaning, how quality, do func(one *set)) {
	for _, id := range m.exact {
		do(&f.with[id])
	}
	if how >= prefix {
		for _, id := range f.order.all[m.from:m.to] {
			do(&f.with[id])
		}
	}
	if how >= misspelt {
		for _, id := range m.wrong {
			do(&f.with[id])
		}
	}
}

// count turns a question to each part into bits.
func (f *finder) count(s *set, m *meaning, how quality) {
	all := f.lent.empty(len(f.docs))
	f.eachWord(m, how, all.merge)
	for _, with := range m.together {
		for _, k := range with {
			all.put(k.doc)
		}
	}
	s.bits, s.ask = all, nil
}

const (
	walkMost = 1 << 14 // parts looked at in the order of the ranking before it is given up
	askMost  = 1 << 9  // and of these asked
	askCost  = 1 << 7  // how much longer it takes to ask a part than to count one
)

// walk looks at the parts in the order of the ranking, where so many have each
// word that the best are soon together. It says whether all are found; those
// that were stand before the rest.
func (f *finder) walk(sets []*set, as Found) bool {
	for _, s := range sets {
		if s.n*dense < len(f.docs) || s.list != nil {
			return false
		}
	}
	asked := 0
	for rank, one := range f.ranked.all[:min(len(f.ranked.all), walkMost)] {
		if f.ranking.aside[one.doc]&f.aside != 0 || !inBits(sets, one.doc) {
			continue
		}
		if asked > askMost {
			return false
		}
		in := true
		for _, s := range sets {
			if in && s.ask != nil {
				asked++
				in = s.ask(one.doc)
			}
		}
		if in {
			if f.takeRank(docID(rank), as); f.full() {
				return true
			}
		}
	}
	return len(f.ranked.all) <= walkMost
}

func inBits(sets []*set, id docID) bool {
	for _, s := range sets {
		if s.bits != nil && !s.bits.has(id) {
			return false
		}
	}
	return true
}

// intersect hits what is in all sets, from the smallest on.
func (f *finder) intersect(sets []*set) {
	smallest, others := sets[0], sets[1:]
	for i, s := range sets {
		if s.ask != nil && (i == 0 || smallest.n*askCost > s.n) {
			s.count()
		}
	}
	from := make([]int, len(others))
	each := func(id docID) bool {
		for i, s := range others {
			if !s.has(id, &from[i]) {
				return true
			}
		}
		f.hit(id)
		return true
	}
	if smallest.bits == nil {
		for _, id := range smallest.list {
			each(id)
		}
		return
	}
	for i, w := range smallest.bits {
		rest := others
		for len(rest) > 0 && w != 0 && rest[0].bits != nil {
			w &= rest[0].bits[i]
			rest = rest[1:]
		}
		if w != 0 {
			eachBit(bitmap{w}, docID(i*64), each)
		}
	}
}
