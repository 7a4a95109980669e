package trend

import (
	"math"

	"halfshaft/services/vehicle"
)

// Bound says which limit a forecast is of; the numbers are those of
// halfshaft.schedule.v1.
type Bound uint8

// The bounds.
const (
	NoBound Bound = iota
	LowerEnd
	UpperEnd
	ActionLimit
)

// Forecast is when a quantity meets one of its limits.
type Forecast struct {
	Bound Bound
	Value vehicle.Decimal // the limit, in the unit of the series
	// A measurement meets it before Early with a chance of one in ten, before
	// Late with nine in ten; Late is zero when that is not in sight.
	Early, Likely, Late vehicle.Date
}

// How far ahead a date is given; what lies further off is not in sight.
const (
	horizonYears = 20
	horizonMiles = 1e6
)

// target is a limit on the way that a quantity is going.
type target struct {
	bound Bound
	value vehicle.Decimal
}

// ahead gives the limits that lie in the direction, the nearest first. An
// action limit at the end of the window is that end.
func (s *Series) ahead(d Direction) []target {
	l := s.Limit
	if l == nil {
		return nil
	}
	end, bound, acts := l.Upper, UpperEnd, actsAbove(l)
	if d == Falling {
		end, bound, acts = l.Lower, LowerEnd, actsBelow(l)
	}
	var out []target
	if end != nil && !(acts && l.Action.Cmp(*end) == 0) {
		out = append(out, target{bound, *end})
	}
	if acts {
		out = append(out, target{ActionLimit, *l.Action})
	}
	return out
}

// foresee finds when the limits ahead are met, and says why not where none is.
func (t *Trend) foresee(s *Series, on vehicle.Date, reach Reach) {
	targets := s.ahead(t.Direction)
	if t.Direction != Rising && t.Direction != Falling || len(targets) == 0 {
		t.Outlook = s.noDate(t)
		return
	}
	// Nothing is foreseen for before the last value: the line goes on from there.
	last := s.Values[t.Values[len(t.Values)-1]]
	from := last.Date
	if on.After(from) {
		from = on
	}
	value, _ := last.Quantity.In(s.Unit())
	passed := 0
	for _, m := range targets {
		off := value.Cmp(m.value.Rat())
		if t.Direction == Rising && off > 0 || t.Direction == Falling && off < 0 {
			passed++
			continue
		}
		if f, ok := t.meet(m, from, last, reach); ok {
			t.Forecasts = append(t.Forecasts, f)
		}
	}
	t.Outlook = s.outlook(t, targets, passed, from)
}

// meet finds when a limit is met, from a day on; false when not even early is
// within the horizon.
func (t *Trend) meet(m target, from vehicle.Date, last Value, reach Reach) (Forecast, bool) {
	f := Forecast{Bound: m.bound, Value: m.value}
	height := m.value.Float64()
	end := from.AddMonths(12 * horizonYears)
	if t.Basis == ByDistance {
		at := float64(last.Distance) / millimetreMi
		early, likely, late := t.crossings(height, at, at+horizonMiles)
		f.Early, _, _ = reachMiles(reach, early)
		_, f.Likely, _ = reachMiles(reach, likely)
		_, _, f.Late = reachMiles(reach, late)
	} else {
		at := float64(t.from.DaysUntil(from)) / daysPerYear
		early, likely, late := t.crossings(height, at, at+horizonYears)
		f.Early, f.Likely, f.Late = t.dayAt(early), t.dayAt(likely), t.dayAt(late)
	}
	for _, d := range []*vehicle.Date{&f.Early, &f.Likely, &f.Late} {
		if d.After(end) {
			*d = vehicle.Date{}
		} else if !d.IsZero() && d.Before(from) {
			*d = from
		}
	}
	return f, !f.Early.IsZero()
}

// crossings finds where the line, and both edges of the range of a measurement,
// meet a height, not before at; infinite where not before far.
func (t *Trend) crossings(height, at, far float64) (early, likely, late float64) {
	sign := 1.0
	if t.line.Slope < 0 {
		sign = -1
	}
	quantile := student(&student10, t.line)
	edge := func(x, side float64) float64 { // how far an edge is past the height
		return sign*(t.line.At(x)-height) + side*quantile*t.line.spread(x)
	}
	find := func(side float64) float64 {
		low, high := at, far
		switch {
		case edge(low, side) >= 0:
			return low
		case edge(high, side) < 0:
			return math.Inf(1)
		}
		for high-low > 1e-4 {
			if x := (low + high) / 2; edge(x, side) >= 0 {
				high = x
			} else {
				low = x
			}
		}
		return high
	}
	return find(1), find(0), find(-1)
}

func (t *Trend) dayAt(years float64) vehicle.Date {
	if math.IsInf(years, 1) {
		return vehicle.Date{}
	}
	return t.from.AddDays(int(math.Round(years * daysPerYear)))
}

// reachMiles is when a distance that a limit is met at has been driven. What is
// early in both is early: the range is wider than four cases in five, not
// narrower.
func reachMiles(reach Reach, miles float64) (early, likely, late vehicle.Date) {
	if math.IsInf(miles, 1) {
		return vehicle.Date{}, vehicle.Date{}, vehicle.Date{}
	}
	return reach(vehicle.Distance(math.Round(miles * millimetreMi)))
}
