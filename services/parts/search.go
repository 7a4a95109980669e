package parts

import (
	"cmp"
	"slices"
	"strings"
)

// Found is a part that words were found to mean.
type Found struct {
	Part *Part
	how  quality
	loud bool // a name of the part is exactly what was asked
}

// Search gives the parts of the whole catalogue that have every word of the
// text in their title, their other words or their positions, the best first:
// those of exactly that name, then by how well the words were met, then by
// number. At most limit are given.
func (c *Catalogue) Search(text string, limit int) []Found { return c.search(understand(text), limit) }

func (c *Catalogue) search(a asked, limit int) []Found {
	if len(a.words) == 0 {
		return nil
	}
	meanings := c.words.meanings(a)
	_, lists := c.words.rarest(meanings)
	var found []Found
	for _, list := range lists {
		for _, e := range list {
			if how := c.meets(e, meanings); how < unmet && !a.misdirected(&e.Part) {
				found = append(found, Found{Part: &e.Part, how: how})
			}
		}
	}
	slices.SortFunc(found, func(x, y Found) int {
		return cmp.Or(cmp.Compare(x.how, y.how), strings.Compare(x.Part.Number, y.Part.Number))
	})
	found = slices.CompactFunc(found, func(x, y Found) bool { return x.Part == y.Part })
	return a.namesFirst(found, limit)
}

// namesFirst cuts the list to those that matter, those of exactly the name
// first. Names are compared only among so many, for a single common word can
// be met by half a catalogue.
func (a asked) namesFirst(found []Found, limit int) []Found {
	const compared = 2000
	for i := range found[:min(len(found), compared)] {
		found[i].loud = a.names(found[i].Part)
	}
	slices.SortStableFunc(found, func(x, y Found) int { return -compareBool(x.loud, y.loud) })
	return found[:min(limit, len(found))]
}

// misdirected says whether a part can stand only where the question does not
// ask: a left one when the right one is meant.
func (a asked) misdirected(p *Part) bool {
	if len(p.Positions) == 0 {
		return a.against("", p.Hand)
	}
	return !slices.ContainsFunc(p.Positions, func(position string) bool { return !a.against(position, p.Hand) })
}

// meets gives how well a part meets all the words; unmet when one is missing.
func (c *Catalogue) meets(e *entry, meanings []meaning) quality {
	worst := exact
	for i := range meanings {
		how := min(meanings[i].of(e.own), meanings[i].of(e.places))
		if how == unmet {
			return unmet
		}
		worst = max(worst, how)
	}
	return worst
}
