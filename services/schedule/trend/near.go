package trend

import (
	"math"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

const (
	// nearShare is how close to a limit is near, as a share of the window, or of
	// the limit where the window has one end: common practice, no source.
	nearShare = 0.10
	// nearMonths is how soon a limit that is met is near: two services.
	nearMonths = 24
)

// Near reports whether the last value of a series is beyond a limit or near one
// on a day, and how near: 0 for beyond, then the days until its trend likely
// meets it, then the share of the window that is left. A value from before what
// it was measured on began anew, and one that its trend does not rest on, says
// nothing of today.
func (s *Series) Near(t *Trend, on vehicle.Date) (near bool, rank float64) {
	last := len(s.Values) - 1
	if last < 0 || len(t.Values) == 0 || t.Values[len(t.Values)-1] != last {
		return false, 0
	}
	v := &s.Values[last]
	if verdict := Hold(v.Limit, v.Quantity).Verdict; verdict == OutsideWindow || verdict == BeyondAction {
		return true, 0
	}
	if meets := t.meets(); !meets.IsZero() && !meets.After(on.AddMonths(nearMonths)) {
		return true, 1 + max(0, float64(on.DaysUntil(meets)))
	}
	if left, known := left(s.Limit, v.Quantity); known && left <= nearShare {
		return true, 10_000 + left
	}
	return false, 0
}

// meets is the earliest day on which the trend likely meets a limit; zero where
// nothing foretells one.
func (t *Trend) meets() (day vehicle.Date) {
	for _, f := range t.Forecasts {
		if !f.Likely.IsZero() && (day.IsZero() || f.Likely.Before(day)) {
			day = f.Likely
		}
	}
	return day
}

// left is the share of the window between a value and the nearest limit.
func left(l *schedule.MeasuredLimit, q vehicle.Quantity) (share float64, known bool) {
	if l == nil {
		return 0, false
	}
	v := floatIn(q, l.Unit)
	if math.IsNaN(v) {
		return 0, false
	}
	ends := []*vehicle.Decimal{l.Lower, l.Upper}
	span := 0.0
	switch {
	case l.Lower != nil && l.Upper != nil:
		span = l.Upper.Float64() - l.Lower.Float64()
	case l.Upper != nil:
		span = math.Abs(l.Upper.Float64())
	case l.Lower != nil:
		span = math.Abs(l.Lower.Float64())
	case l.Action != nil:
		span, ends = math.Abs(l.Action.Float64()), []*vehicle.Decimal{l.Action}
	}
	share = 1
	for _, end := range ends {
		if end != nil && span > 0 {
			known = true
			share = min(share, math.Abs(end.Float64()-v)/span)
		}
	}
	return share, known
}
