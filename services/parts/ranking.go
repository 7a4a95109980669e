package parts

import (
	"cmp"
	"slices"
	"strings"
)

// The ranking of what Search finds. A part comes before another
//
//  1. that is found by its number, when the question, or up to four of its
//     words in a row with a digit among them, is its number: before one that
//     was known by it elsewhere, and that before what a supersession put in
//     the place of one of these, the nearest steps first;
//  2. when one of its names, the title or a phrase of the other words, is
//     exactly what was asked, whatever the order of the words;
//  3. when its worst met word is met better: exactly, which takes in the
//     plural and what is written as one word or as two; by its beginning; by
//     one wrong letter;
//  4. when it can still be ordered: before a stock that is used up, and that
//     before what cannot be had;
//  5. when its title is shorter, in words, for it says less that was not
//     asked;
//  6. by its number.
//
// A part must have every word, in its title, its other words or the names of
// its positions, and must not stand only where the question does not ask: a
// left one when the right one is meant. One wrong letter is allowed where no
// part of the catalogue has the word or begins with it, and if nothing meets
// all the words, in any word that no title has. If still nothing does, and a number was meant,
// the parts whose number is one character away are given, by number.
//
// The last three do not depend on the question. They make one order of all
// parts, kept as the place of each, so that the best of many are read off
// without being compared.
type ranking struct {
	ranked sorted[ranked]
	ranks  []uint32 // by docID: the place in that order
	aside  []uint16 // by docID: see asideFor
}

// ranked is a part with what goes before its number in the ranking.
type ranked struct {
	class uint16
	doc   docID
}

const longestTitle = 255 // words that are still told apart by the ranking

// classOf is what goes before the number in the ranking, for a title of so many
// words; less is better.
func classOf(p *Part, title int) uint16 {
	return uint16(max(p.Status, Orderable)-Orderable)<<8 | uint16(min(title, longestTitle))
}

// rankAnew puts one part in the place of another; nil for none.
func (r *ranking) rankAnew(e, old *entry) {
	if e != nil && old != nil && e.class == old.class {
		return
	}
	if e != nil {
		r.ranked.add(ranked{e.class, e.id})
	}
	if old != nil {
		r.ranked.remove(ranked{old.class, old.id})
	}
}

func (r *ranking) rank(docs []*entry) {
	if len(r.ranked.added)+len(r.ranked.gone) == 0 {
		return
	}
	r.ranked.settle(func(a, b ranked) int {
		if a.class != b.class {
			return cmp.Compare(a.class, b.class)
		}
		return cmp.Or(strings.Compare(docs[a.doc].Number, docs[b.doc].Number), cmp.Compare(a.doc, b.doc))
	})
	r.ranks = slices.Grow(r.ranks, len(docs)-len(r.ranks))[:len(docs)]
	for i, one := range r.ranked.all {
		r.ranks[one.doc] = uint32(i)
	}
}

// direction is a set of directions, one bit for each.
type direction uint8

var directionBits = map[string]direction{"left": 1, "right": 2, "front": 4, "rear": 8}

func directionsOf(asked []string) direction {
	var d direction
	for _, name := range asked {
		d |= directionBits[name]
	}
	return d
}

// opposed gives the directions that contradict a position or a hand, as
// asked.against does for one.
func opposed(position string, hand Hand) direction {
	has := direction(0)
	for w := range strings.SplitSeq(position, "-") {
		has |= directionBits[w]
	}
	against := (has&1<<1 | has&2>>1 | has&4<<1 | has&8>>1) &^ has
	return against | directionBits[opposite[hand.String()]]
}

// asideFor has a bit for each set of directions that rules the part out: every
// position of it is against one of them.
func asideFor(p *Part) uint16 {
	all := []direction{}
	for _, position := range p.Positions {
		all = append(all, opposed(position, p.Hand))
	}
	if len(all) == 0 {
		all = append(all, opposed("", p.Hand))
	}
	var out uint16
	for asked := range direction(16) {
		if !slices.ContainsFunc(all, func(against direction) bool { return against&asked == 0 }) {
			out |= 1 << asked
		}
	}
	return out
}
