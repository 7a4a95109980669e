package trend

import (
	"math"
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
	for k, i := range now {
		if way == 0 || !s.better(g.kept, i, way) {
			g.kept = append(g.kept, i)
			continue
		}
		g.was[i] = g.kept[len(g.kept)-1]
		if k+1 == len(now) || !s.better(g.kept, now[k+1], way) {
			g.aside = append(g.aside, i)
			continue
		}
		g.kept, g.anew = []int{i}, i
	}
	return g
}

// better says whether a value is better than the last of those before it by far
// more than instrument and scatter explain.
func (s *Series) better(before []int, i int, way float64) bool {
	if len(before) == 0 {
		return false
	}
	last := before[len(before)-1]
	was := s.height(last)
	gain := way * (was - s.height(i))
	finest := s.stepOf(i)
	for _, k := range before {
		finest = min(finest, s.stepOf(k))
	}
	return gain > max(readOff(finest, s.stepOf(i), s.stepOf(last)), s.backAndForth(before, way, was))
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
func (s *Series) backAndForth(before []int, way, was float64) float64 {
	if len(before) < fewest {
		return half(s.Limit, was)
	}
	back := 0.0
	for k := 1; k < len(before); k++ {
		back = max(back, way*(s.height(before[k-1])-s.height(before[k])))
	}
	if len(before) >= enough {
		p := s.pointsOf(before, s.Values[before[0]].Date, false)
		if line, ok := LeastSquares(p.years, p.y); ok {
			back = max(back, line.SD)
		}
	}
	return scatterBack * back
}

// height is a value in the unit of the series, and stepOf the step with which it
// was read.
func (s *Series) height(i int) float64 {
	value, ok := s.Values[i].Quantity.In(s.Unit())
	if !ok {
		return math.NaN()
	}
	f, _ := value.Float64()
	return f
}

func (s *Series) stepOf(i int) float64 { return floatStep(s.Values[i].Quantity, s.Unit()) }

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
