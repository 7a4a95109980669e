package shims

import (
	"fmt"
	"math/big"
	"strconv"
)

// Fewest shims settle least, but a pack may leave the joint on the very end of
// its window, and what settles then leaves it. So the rule of the fewest shims
// tells of a pack of a few more where its own comes as near to an end as a tenth
// of the width of the window, and the other nearer to the target by a fifth.
// How well the joint was measured does not matter: an error moves both alike.
const (
	nearAnEnd     = 10
	clearlyNearer = 5
	shimsMore     = 2
)

// nearer looks for a pack of a few shims more that comes clearly nearer to the
// target. Of two that do the one with more shims has to come as clearly nearer
// than the other.
func (s *search) nearer(rule Rule, best choice) (nearer choice, ok bool) {
	if rule != FewestThenNearest || !s.m.nearEnd(best) {
		return choice{}, false
	}
	clearly := s.m.share(clearlyNearer)
	off := s.m.off(s.m.valueOf(best.totals[0]))
	for n := best.count + 1; n <= min(best.count+shimsMore, s.most); n++ {
		var c choice
		for _, t := range s.beside(n) {
			if t >= 0 && s.m.fits(t) {
				c = s.better(c, choice{n, []int64{t}})
			}
		}
		if c.totals == nil {
			continue
		}
		is := s.m.off(s.m.valueOf(c.totals[0]))
		if new(big.Rat).Sub(off, is).Cmp(clearly) >= 0 && clearly.Sign() > 0 {
			nearer, off, ok = c, is, true
		}
	}
	return nearer, ok
}

// share is one in so many parts of the width of the window.
func (m *model) share(of int64) *big.Rat {
	width := new(big.Rat).Sub(m.upper, m.lower)
	return width.Quo(width, big.NewRat(of, 1))
}

// nearEnd says whether each pack of a choice leaves the joint near an end of
// its window, or on it: where one does not, that can be chosen.
func (m *model) nearEnd(c choice) bool {
	for _, t := range c.totals {
		if end, _ := m.end(m.valueOf(t)); end == "" {
			return false
		}
	}
	return true
}

// end names the end of the window that a value in it is near, and says how near;
// "" for none.
func (m *model) end(value *big.Rat) (name string, away *big.Rat) {
	near := m.share(nearAnEnd)
	lower, upper := new(big.Rat).Sub(value, m.lower), new(big.Rat).Sub(m.upper, value)
	switch {
	case upper.Cmp(near) <= 0 && upper.Cmp(lower) <= 0:
		return "upper", upper
	case lower.Cmp(near) <= 0:
		return "lower", lower
	}
	return "", nil
}

// nearer tells of the pack of a few shims more.
func (t teller) nearer() {
	pack := t.r.Nearer
	end, away := t.m.end(t.gives)
	where := "on the " + end + " end of the window"
	if away.Sign() > 0 {
		where = t.m.value.amount(away).String() + " from the " + end + " end of the window"
	}
	more := pack.Count - t.r.Packs[0].Count
	t.say("NEARER_WITH_MORE_SHIMS", fmt.Sprintf("That leaves it %s, and what settles may take it out. With %s more, %s gives %s, %s: worth a thought before the joint is closed.",
		where, shims(more), made(*pack), pack.Gives, t.fromTarget(pack.Off)),
		fact("pack", pack.String()), fact("count", strconv.Itoa(pack.Count)), fact("total", pack.Total.String()),
		fact("gives", pack.Gives.String()), fact("off_target", pack.Off.String()), fact("end", end))
}
