package trend

import (
	"math/big"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// Verdict says where a value lies; the numbers are those of
// halfshaft.schedule.v1. Of two verdicts about one quantity the greater is the
// worse, as far as there is a limit at all.
type Verdict uint8

// The verdicts.
const (
	NoVerdict     Verdict = iota // nothing to hold it against: no limit, or in a unit that does not convert
	Within                       // in its window, the ends included
	OutsideWindow                // outside, and not beyond an action limit
	BeyondAction                 // beyond the limit at which the engineer is asked
)

// Against is a value held against a limit.
type Against struct {
	Verdict Verdict
	Value   *big.Rat // in the unit of the limit; nil without a verdict
	Off     *big.Rat // how far outside the window, 0 within; nil without a verdict
	Low     bool     // whether it lies below the window rather than above
	Close   bool     // outside by less than half a step of the instrument: it cannot tell
}

// Hold compares a value with a limit, in whatever unit it was measured, without
// rounding. limit may be nil.
func Hold(limit *schedule.MeasuredLimit, q vehicle.Quantity) Against {
	if limit == nil {
		return Against{}
	}
	value, ok := q.In(limit.Unit)
	if !ok {
		return Against{}
	}
	a := Against{Verdict: Within, Value: value, Off: new(big.Rat)}
	switch {
	case limit.Upper != nil && value.Cmp(limit.Upper.Rat()) > 0:
		a.Verdict = OutsideWindow
		a.Off.Sub(value, limit.Upper.Rat())
	case limit.Lower != nil && value.Cmp(limit.Lower.Rat()) < 0:
		a.Verdict, a.Low = OutsideWindow, true
		a.Off.Sub(limit.Lower.Rat(), value)
	}
	if beyond(limit, value) {
		a.Verdict = BeyondAction
	}
	step, _ := q.StepIn(limit.Unit)
	a.Close = a.Verdict != Within && new(big.Rat).Mul(a.Off, big.NewRat(2, 1)).Cmp(step) < 0
	return a
}

// beyond says whether a value is past the action limit.
func beyond(limit *schedule.MeasuredLimit, value *big.Rat) bool {
	if limit.Action == nil {
		return false
	}
	action := limit.Action.Rat()
	return actsAbove(limit) && value.Cmp(action) > 0 || actsBelow(limit) && value.Cmp(action) < 0
}

// actsAbove and actsBelow say on which side of its window an action limit lies.
func actsAbove(l *schedule.MeasuredLimit) bool {
	return l.Action != nil && l.Upper != nil && l.Action.Cmp(*l.Upper) >= 0
}

func actsBelow(l *schedule.MeasuredLimit) bool {
	return l.Action != nil && l.Lower != nil && l.Action.Cmp(*l.Lower) <= 0
}

// SameLimit says whether two limits ask the same of a value, however it is
// measured.
func SameLimit(a, b *schedule.MeasuredLimit) bool {
	same := func(x, y *vehicle.Decimal) bool {
		return x == nil && y == nil || x != nil && y != nil && x.Cmp(*y) == 0
	}
	return a.Unit == b.Unit && same(a.Lower, b.Lower) && same(a.Upper, b.Upper) && same(a.Action, b.Action)
}
