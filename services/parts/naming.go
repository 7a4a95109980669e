package parts

import (
	"slices"
	"strings"
)

// A name says what a thing is at its end: "coil lead" is a lead, "ignition
// coil" a coil. What was asked for is rather the coil than what belongs to it.

// ends says whether what was asked is how a name ends, or a piece of the name
// between commas and colons, or several such pieces in a row: "timing chain"
// is "Engine, rebuilt: timing chain" and no "timing-chain tensioner". The word
// "set" and what names what it is a part of may follow. A side or an end that
// contradicts the question makes it another thing.
func (a *asked) ends(name string) bool {
	forms := spellings(a.words, a.joined)
	pieces := strings.FieldsFunc(name, func(r rune) bool { return strings.ContainsRune(",;:()", r) })
	for from := range pieces {
		for to := from + 1; to <= len(pieces); to++ {
			other := understand(strings.Join(pieces[from:to], " "))
			if slices.ContainsFunc(other.directions, a.contradicts) {
				continue
			}
			for _, words := range spellings(other.words, other.joined) {
				if n := len(words); n > 1 && words[n-1] == "set" && !slices.Contains(a.words, "set") {
					words = words[:n-1]
				}
				if slices.ContainsFunc(forms, func(form []string) bool {
					n := len(words) - len(form)
					return n >= 0 && wordKey(words[n:]) == wordKey(form)
				}) {
					return true
				}
			}
		}
	}
	return false
}

// contradicts says whether the other side, or the other end, was asked for.
func (a *asked) contradicts(direction string) bool {
	return slices.Contains(a.directions, opposite[direction]) && !slices.Contains(a.directions, direction)
}

// spellings are some words as they are, and with each two neighbours that may
// be one word as one.
func spellings(words []string, joined [][]string) [][]string {
	all := [][]string{words}
	for i := 1; i < len(words); i++ {
		if together := words[i-1] + words[i]; slices.Contains(joined[i], together) {
			form := append(slices.Clone(words[:i-1]), together)
			all = append(all, append(form, words[i+1:]...))
		}
	}
	return all
}

// exactly says whether a name of what stands or may stand at some positions is
// what was asked. A side or an end in it must be asked for too, unless it tells
// the position from its twin: "front seal" at an input shaft is not any seal,
// and no other thread than the one that was named will do.
func (c *Catalogue) exactly(a *asked, name string, positions []string, hand Hand) bool {
	if !a.is(name) {
		return false
	}
	return !slices.ContainsFunc(understand(name).directions, func(d string) bool {
		tells := hand.String() == d || slices.ContainsFunc(positions, func(p string) bool { return c.twin(p, d) })
		return a.contradicts(d) || !slices.Contains(a.directions, d) && !tells
	})
}

// twin says whether there is another position that differs only by the
// direction.
func (c *Catalogue) twin(position, direction string) bool {
	words := strings.Split(position, "-")
	i := slices.Index(words, direction)
	if i < 0 {
		return false
	}
	words[i] = opposite[direction]
	return c.positions.Get(strings.Join(words, "-")) != nil
}

// calls says whether a title or one of the other words of a part is exactly
// what was asked.
func (c *Catalogue) calls(a *asked, p *Part) bool {
	for name := range p.titles {
		if len(a.words) > 0 && c.exactly(a, name, p.Positions, p.Hand) {
			return true
		}
	}
	return false
}

// endsSome says whether one of the names of the position ends with what was
// asked.
func (s *site) endsSome(a *asked) bool {
	p := s.catalogue.positions.Get(s.position)
	return p != nil && (a.ends(p.Title) || slices.ContainsFunc(p.Words, a.ends))
}

// endsSome says likewise of the names of a part.
func (p *Part) endsSome(a *asked) bool {
	return a.ends(p.Title) || slices.ContainsFunc(p.Words, a.ends)
}

// mainThing leaves out of several things that were met alike what comes with
// another of them: the expander that a kit at its place holds, what is split
// into parts of which one has a place of its own, and of a merge the places
// that have fewer of the words.
func mainThing(best []match) []match {
	return slices.DeleteFunc(slices.Clone(best), func(m match) bool {
		return slices.ContainsFunc(best, func(other match) bool {
			w, o := &m.want, &other.want
			held := w.with != nil && o.with == nil && w.position == o.position && w.with.holder == o.route.lines[0].Part
			split := o.with == nil && w.position != o.position && slices.ContainsFunc(w.route.lines[1:], func(l Line) bool { return l.Part == o.route.lines[0].Part })
			merged := mergedAlike(&w.route, &o.route) && m.place < other.place
			return held || split || merged
		})
	})
}
