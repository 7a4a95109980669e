package enquiry

import (
	"halfshaft/services/vehicle"
)

// Measured is the last value of something that was measured more than once or
// not, with its limit and its forecast.
type Measured struct {
	Value    vehicle.Decimal
	Measured vehicle.Date
	Outside  bool // beyond a limit already
	Lower    *vehicle.Decimal
	Upper    *vehicle.Decimal
	Action   *vehicle.Decimal
	// Meets is the earliest day on which its trend likely meets a limit; zero
	// where nothing foretells one.
	Meets vehicle.Date
}

const (
	// nearShare is how close to a limit is near, as a share of the window, or of
	// the limit where the window has one end: common practice, no source.
	nearShare = 0.10
	// nearMonths is how soon a limit that is met is near: two services.
	nearMonths = 24
)

// Near reports whether the value is beyond a limit or near one on a day, and
// how near: 0 for beyond, then the day of meeting, in days, then the share of
// the window that is left.
func (m Measured) Near(today vehicle.Date) (near bool, rank float64) {
	switch left, known := m.left(); {
	case m.Outside:
		return true, 0
	case !m.Meets.IsZero() && !m.Meets.After(today.AddMonths(nearMonths)):
		return true, 1 + max(0, float64(today.DaysUntil(m.Meets)))
	case known && left <= nearShare:
		return true, 10_000 + left
	}
	return false, 0
}

// left is the share of the window between the value and the nearest limit.
func (m Measured) left() (share float64, known bool) {
	v := m.Value.Float64()
	share = 1
	try := func(limit *vehicle.Decimal, span float64) {
		if limit == nil || span <= 0 {
			return
		}
		known = true
		share = min(share, abs(limit.Float64()-v)/span)
	}
	span := 0.0
	switch {
	case m.Lower != nil && m.Upper != nil:
		span = m.Upper.Float64() - m.Lower.Float64()
	case m.Upper != nil:
		span = abs(m.Upper.Float64())
	case m.Lower != nil:
		span = abs(m.Lower.Float64())
	case m.Action != nil:
		span = abs(m.Action.Float64())
	}
	try(m.Lower, span)
	try(m.Upper, span)
	if m.Lower == nil && m.Upper == nil {
		try(m.Action, span)
	}
	return share, known
}

func abs(f float64) float64 { return max(f, -f) }
