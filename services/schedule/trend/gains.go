package trend

import (
	"slices"

	"halfshaft/services/schedule"
)

// What wears does not mend itself: a lining that has grown thicker was renewed,
// or one of the two values is a slip. Which it was nobody can tell from the
// number, so a value that has got better by itself is not reckoned with until
// the next one agrees with it; then the quantity is taken to have begun anew
// there, and it is said that nothing on record explains it.

// scatterBack is how many times what the values before went back and forth a
// value must be better before it is asked about.
const scatterBack = 3

// worse says which way a quantity wears, by the side on which it must not pass
// its limit: 1 where its numbers grow, -1 where they fall, 0 where the limit
// does not say, as that of a belt that is slack or tight.
func worse(l *schedule.MeasuredLimit) float64 {
	switch {
	case l == nil:
		return 0
	case actsAbove(l) != actsBelow(l):
		if actsAbove(l) {
			return 1
		}
		return -1
	case l.Action != nil, l.Lower != nil && l.Upper != nil:
		return 0
	case l.Upper != nil:
		return 1
	case l.Lower != nil:
		return -1
	}
	return 0
}

// gains are the values of a component that have got better by themselves.
type gains struct {
	kept  []int // what can be reckoned with, in order
	aside []int // what cannot, until it is measured again
	anew  int   // the value from which it is reckoned anew, because the next agreed with it; -1 for none
	was   map[int]int
}

// gains looks through the values of the component as it now is.
func (s *Series) gains(now []int) gains {
	g := gains{anew: -1, was: map[int]int{}}
	way := worse(s.Limit)
	if way == 0 {
		g.kept = now
		return g
	}
	l := s.look(now)
	for k, i := range now {
		if !s.better(l, g.kept, i, way) {
			g.kept = append(g.kept, i)
			continue
		}
		g.was[i] = g.kept[len(g.kept)-1]
		if k+1 == len(now) || !s.better(l, g.kept, now[k+1], way) {
			g.aside = append(g.aside, i)
			continue
		}
		g.kept, g.anew = []int{i}, i
	}
	return g
}

// better says whether a value is better than the last of those before it by far
// more than instrument and scatter explain.
func (s *Series) better(l look, before []int, i int, way float64) bool {
	if len(before) == 0 {
		return false
	}
	last := before[len(before)-1]
	was := l.height[last]
	gain := way * (was - l.height[i])
	finest := l.step[i]
	for _, k := range before {
		finest = min(finest, l.step[k])
	}
	return gain > max(readOff(finest, l.step[i], l.step[last]), s.backAndForth(l, before, way, was))
}

// readOff is by how much two values may differ because of how they were read:
// the half of its own step by which each is rounded, and four of the finest
// steps with which the quantity was ever read. Of equal steps those are five.
// Who says "5 mm" of what is measured in tenths has rounded, and no more: that
// does not excuse five millimetres.
func readOff(finest, a, b float64) float64 { return (4*finest + (a+b)/2) * (1 + 1e-9) }

// backAndForth is how much better a value may be by what those before it did:
// the most they went back, and of enough of them what they scatter about their
// line, both so many times over. Of one or two values nothing is known.
func (s *Series) backAndForth(l look, before []int, way, was float64) float64 {
	if len(before) < fewest {
		return half(s.Limit, was)
	}
	back := 0.0
	for k := 1; k < len(before); k++ {
		back = max(back, way*(l.height[before[k-1]]-l.height[before[k]]))
	}
	if len(before) >= enough {
		years, y := make([]float64, len(before)), make([]float64, len(before))
		for k, i := range before {
			years[k], y[k] = float64(s.Values[before[0]].Date.DaysUntil(s.Values[i].Date))/daysPerYear, l.height[i]
		}
		if line, ok := LeastSquares(years, y); ok {
			back = max(back, line.SD)
		}
	}
	return scatterBack * back
}

// look is the values of a series in its unit, and the steps with which they were
// read, by their indexes. Each is held against all before it, and to convert it
// exactly every time would take most of the time of a trend.
type look struct{ height, step []float64 }

// look converts some of the values; the others stay zero.
func (s *Series) look(some []int) look {
	l := look{make([]float64, len(s.Values)), make([]float64, len(s.Values))}
	unit := s.Unit()
	for _, i := range some {
		l.height[i], l.step[i] = floatIn(s.Values[i].Quantity, unit), floatStep(s.Values[i].Quantity, unit)
	}
	return l
}

// gainWords tells of the values that got better by themselves.
func (s *Series) gainWords(t *Trend) string {
	text := ""
	for _, i := range t.Better {
		v, was := &s.Values[i], &s.Values[t.was[i]]
		text += " The " + v.Quantity.String() + " of " + v.Date.Long() + " is left out: it is better than the " + was.Quantity.String() + " of " + was.Date.Long() +
			", and wear does not go back. Measure again; or was it renewed or set anew in between? Then record that."
	}
	if t.anew >= 0 {
		v, was := &s.Values[t.anew], &s.Values[t.was[t.anew]]
		text += " They are counted from the " + v.Quantity.String() + " of " + v.Date.Long() + " on, which is better than the " + was.Quantity.String() + " of " + was.Date.Long() +
			" although nothing on record says why: if it was renewed or set anew in between, record that."
	}
	return text
}

// confirmed says whether a value agrees with one that had got better before it,
// so that it does not stand against what was before that.
func (g *gains) confirmed(before gains, i int) bool {
	return g.anew != before.anew && slices.Contains(g.kept, i)
}
