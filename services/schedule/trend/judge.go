package trend

import (
	"math"
	"math/big"
	"slices"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// Advice is what to do about a value; the numbers are those of
// halfshaft.schedule.v1, and the greater is the more urgent.
type Advice uint8

// What to do.
const (
	NoAdvice     Advice = iota // there is no limit to hold it against
	Fine                       // nothing
	Plan                       // put it right at a coming visit
	MeasureAgain               // it differs from what was measured before as nothing on record explains
	Act                        // ask the engineer before the vehicle is driven on
)

// Question is a value that somebody has just measured.
type Question struct {
	Quantity vehicle.Quantity
	Date     vehicle.Date     // the day it was measured
	Distance vehicle.Distance // true, then; only where Known
	Known    bool
	Item     *schedule.Item // that it is measured for; nil where none is
	Reach    Reach          // may be nil
}

// Judgement is what such a value means.
type Judgement struct {
	Against     Against
	Previous    *Value // the one before, by day; nil for none
	Same        bool   // whether that was of the same component
	Implausible bool   // it differs from what was before as nothing on record explains
	Better      bool   // and is better, as what wears does not get by itself
	Recorded    bool   // it is on record of that day already
	Trend       Trend  // with the value, unless that is implausible
	Advice      Advice
	Verdict     vehicle.Reason // within its limit or not
	Compared    vehicle.Reason // with last time
	Doing       vehicle.Reason // what to do
}

// Judge says what a value means. Nothing of it is kept.
func (s *Series) Judge(q Question) Judgement {
	j := Judgement{Against: Hold(s.Limit, q.Quantity)}
	before := *s
	before.Values, before.Breaks = nil, slices.Clone(s.Breaks)
	for i := range s.Values {
		v := &s.Values[i]
		if v.Date.Before(q.Date) {
			before.Values = append(before.Values, *v)
		}
		j.Recorded = j.Recorded || v.Date == q.Date && v.Quantity == q.Quantity
	}
	before.Sort()
	fresh := Value{Date: q.Date, Quantity: q.Quantity, Distance: q.Distance, Known: q.Known, Limit: s.Limit, Stage: AsLeft}
	if len(before.Values) == 0 && s.Limit == nil {
		j.Trend = before.Trend(q.Date, q.Reach)
	} else {
		j.compare(&before, &fresh, q)
		whole := before
		if !j.Implausible {
			whole.Values = append(slices.Clone(before.Values), fresh)
		}
		j.Trend = whole.Trend(q.Date, q.Reach)
		j.within(&whole)
	}
	j.Verdict = s.verdictWords(&j.Against, q.Quantity)
	j.Compared = before.comparedWords(&j, &fresh)
	j.advise(s, q)
	return j
}

// compare finds the value before, and whether the new one differs from those
// before it beyond what they scatter.
func (j *Judgement) compare(before *Series, fresh *Value, q Question) {
	j.Previous = before.last(q.Date)
	if j.Previous == nil || !vehicle.Convertible(fresh.Quantity.Unit, before.Unit()) {
		j.Previous = nil
		return
	}
	last, broken := before.LastBreak(q.Date)
	j.Same = !broken || j.Previous.Date.After(last.Date) || j.Previous.Date == last.Date && j.Previous.Stage == AsLeft
	if !j.Same {
		return
	}
	value, _ := fresh.Quantity.In(before.Unit())
	x, _ := value.Float64()
	trend := before.Trend(q.Date, q.Reach)
	step := floatStep(fresh.Quantity, before.Unit())
	confirms := j.gained(before, fresh, q.Date)
	if j.Better {
		j.Implausible = true
		return
	}
	if height, spread, ok := trend.at(q.Date, q.Distance); ok && !confirms && (trend.Basis != ByDistance || q.Known) {
		scale := max(1, trend.Step/trend.Scatter)
		rounded := max(0, step-trend.Step) / 2
		j.Implausible = math.Abs(x-height) > 5*spread*scale+rounded
		return
	}
	was, _ := j.Previous.Quantity.In(before.Unit())
	y, _ := was.Float64()
	then := floatStep(j.Previous.Quantity, before.Unit())
	j.Implausible = math.Abs(x-y) > max(readOff(min(step, then), step, then), half(before.Limit, y))
}

// gained finds whether the new value got better by itself, or confirms one that
// did.
func (j *Judgement) gained(before *Series, fresh *Value, on vehicle.Date) (confirms bool) {
	was, _ := before.since(on)
	whole := *before
	whole.Values = append(slices.Clone(before.Values), *fresh)
	n := len(before.Values)
	g := whole.gains(append(was, n))
	j.Better = slices.Contains(g.aside, n)
	return g.confirmed(before.gains(was), n)
}

// half is how far a value may be from one or two before it, of whose scatter
// nothing is known: half the width of the window, or half of what it was.
func half(l *schedule.MeasuredLimit, was float64) float64 {
	if l != nil && l.Lower != nil && l.Upper != nil {
		return (l.Upper.Float64() - l.Lower.Float64()) / 2
	}
	return math.Abs(was) / 2
}

// advise says what to do. Past a limit at which the engineer is asked, or past
// a window that has no such limit, there is nothing to wait for.
func (j *Judgement) advise(s *Series, q Question) {
	l := s.Limit
	noAction := l != nil && (j.Against.Low && !actsBelow(l) || !j.Against.Low && !actsAbove(l))
	switch j.Against.Verdict {
	case BeyondAction:
		j.Advice = Act
	case OutsideWindow:
		j.Advice = Plan
		if noAction {
			j.Advice = Act
		}
	case Within:
		j.Advice = Fine
		if j.leavesSoon(q) {
			j.Advice = Plan
		}
	}
	if j.Implausible && j.Advice != Act {
		j.Advice = MeasureAgain
	}
	j.Doing = s.doingWords(j, q)
}

// leavesSoon says whether a value within its window may leave it before it is
// measured again.
func (j *Judgement) leavesSoon(q Question) bool {
	if q.Item == nil || q.Item.Every.Months == 0 || len(j.Trend.Forecasts) == 0 {
		return false
	}
	next := q.Date.AddMonths(q.Item.Every.Months)
	f := &j.Trend.Forecasts[0]
	return !f.Likely.IsZero() && !f.Likely.After(next)
}

// slip names the slip by which one value may have become another: a decimal
// point, or millimetres for inches; empty for none.
func slip(now, was *big.Rat) string {
	a, _ := now.Float64()
	b, _ := was.Float64()
	if b == 0 || a == 0 {
		return ""
	}
	switch r := a / b; {
	case math.Abs(r/10-1) < 0.1, math.Abs(r*10-1) < 0.1:
		return "It is about ten times the other: a decimal point may be out of place."
	case math.Abs(r/25.4-1) < 0.1, math.Abs(r*25.4-1) < 0.1:
		return "It is about 25 times the other: inches may have been taken for millimetres, or the other way about."
	}
	return ""
}
