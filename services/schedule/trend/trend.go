package trend

import (
	"math"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

// Direction says where a quantity is going; the numbers are those of
// halfshaft.schedule.v1.
type Direction uint8

// The directions.
const (
	Untold  Direction = iota // too few values to tell
	Steady                   // no change beyond what the values scatter or the instrument resolves
	Rising                   // its numbers grow
	Falling                  // its numbers fall
)

// Basis is what a trend is counted over; the numbers are those of
// halfshaft.schedule.v1.
type Basis uint8

// The bases.
const (
	NoBasis Basis = iota
	ByTime
	ByDistance
)

// Rate is a slope with the range in which it lies in four cases out of five.
type Rate struct{ Middle, Low, High float64 }

// Trend is what the values since the last renewal say together. Numbers are in
// the unit of the series.
type Trend struct {
	Direction Direction
	Basis     Basis
	Values    []int   // indexes of the values that it rests on
	SetAside  []int   // of those that lie wildly off the rest
	Better    []int   // of those that got better by themselves: nothing on record explains them
	LeftOut   []int   // of those measured on the day of a renewal, or in a unit that does not convert
	Step      float64 // of the instrument, the coarsest
	PerYear   Rate    // by time; zero without one
	PerMile   Rate    // by distance; zero where the distance at some value is not known
	Scatter   float64 // standard deviation about the line that was taken, the step's share included
	Forecasts []Forecast
	Reason    vehicle.Reason // the trend in a sentence
	Outlook   vehicle.Reason // when it meets its limit, or why no date is given

	line Line
	from vehicle.Date // where time is counted from
	anew int          // the value from which it is reckoned anew without a record of why; -1 for none
	was  map[int]int  // for that and those of Better the value before
}

const (
	fewest       = 3      // values from which a slope is told
	fewestByWay  = 4      // and from which distance may be taken for the better reckoning
	enough       = 5      // and from which one that lies off can be told from the rest
	betterByWay  = 0.8    // how much less values must scatter over distance than over time
	daysPerYear  = 365.25 // Julian
	millimetreMi = float64(vehicle.Mile)
)

// stepShare is the standard deviation of a difference of two readings, each
// rounded to a step (JCGM 100:2008, 4.3.9).
var stepShare = 1 / math.Sqrt(6)

// Reach gives the days on which the vehicle has covered a true distance: early
// with a chance of one in ten, likely, and late with nine in ten; zero for a
// day that is not in sight.
type Reach func(vehicle.Distance) (early, likely, late vehicle.Date)

// points are the values that a trend is fitted to.
type points struct {
	indexes         []int
	years, miles, y []float64
	milesKnown      bool
}

// Trend works out where the quantity is going by a day. reach may be nil: then
// distance is not reckoned with.
func (s *Series) Trend(on vehicle.Date, reach Reach) Trend {
	now, leftOut := s.since(on)
	g := s.gains(now)
	now = g.kept
	t := Trend{LeftOut: leftOut, Better: g.aside, anew: g.anew, was: g.was}
	if len(now) > 0 {
		t.from = s.Values[now[0]].Date
	}
	unit := s.Unit()
	for _, i := range now {
		t.Step = max(t.Step, floatStep(s.Values[i].Quantity, unit))
	}
	p := s.pointsOf(now, t.from, reach != nil)
	t.SetAside = p.setWildAside(t.Step)
	t.Values = p.indexes
	if len(p.indexes) >= fewest {
		t.fit(&p)
	}
	t.Reason = s.tell(&t, on)
	t.foresee(s, on, reach)
	return t
}

func (s *Series) pointsOf(indexes []int, from vehicle.Date, wayCounts bool) points {
	p := points{milesKnown: wayCounts && len(indexes) > 0}
	unit := s.Unit()
	for _, i := range indexes {
		v := &s.Values[i]
		p.indexes, p.y = append(p.indexes, i), append(p.y, floatIn(v.Quantity, unit))
		p.years = append(p.years, float64(from.DaysUntil(v.Date))/daysPerYear)
		p.miles = append(p.miles, float64(v.Distance)/millimetreMi)
		p.milesKnown = p.milesKnown && v.Known
	}
	return p
}

// setWildAside takes out the values that lie more than five times the scatter,
// and five steps of the instrument, off the median of slopes, as long as they
// are few.
func (p *points) setWildAside(step float64) []int {
	line, ok := forecast.TheilSen(p.years, p.y)
	if len(p.y) < enough || !ok {
		return nil
	}
	most := 5 * max(line.Sigma, step)
	kept := points{milesKnown: p.milesKnown}
	var aside []int
	for k, i := range p.indexes {
		if math.Abs(line.Residual(p.years[k], p.y[k])) > most {
			aside = append(aside, i)
			continue
		}
		kept.indexes, kept.y = append(kept.indexes, i), append(kept.y, p.y[k])
		kept.years, kept.miles = append(kept.years, p.years[k]), append(kept.miles, p.miles[k])
	}
	if len(aside)*enough > len(p.indexes) {
		return nil
	}
	*p = kept
	return aside
}

// fit fits the lines by time and by distance, takes one, and says where it goes.
func (t *Trend) fit(p *points) {
	floor := t.Step * stepShare
	byTime, timed := LeastSquares(p.years, p.y)
	if !timed {
		return
	}
	byTime = byTime.atLeast(floor)
	t.PerYear, t.line, t.Basis = rateOf(byTime), byTime, ByTime
	if p.milesKnown {
		if byWay, ok := LeastSquares(p.miles, p.y); ok {
			byWay = byWay.atLeast(floor)
			t.PerMile = rateOf(byWay)
			if len(p.y) >= fewestByWay && byWay.SD < betterByWay*byTime.SD {
				t.line, t.Basis = byWay, ByDistance
			}
		}
	}
	t.Scatter = t.line.SD
	least, most := p.y[0], p.y[0]
	for _, y := range p.y {
		least, most = min(least, y), max(most, y)
	}
	sure := student(&student05, t.line) * t.line.SlopeSD
	switch {
	case most-least <= t.Step*(1+1e-9), math.Abs(t.line.Slope) <= sure:
		t.Direction = Steady
	case t.line.Slope > 0:
		t.Direction = Rising
	default:
		t.Direction = Falling
	}
}

func rateOf(l Line) Rate {
	half := student(&student10, l) * l.SlopeSD
	return Rate{l.Slope, l.Slope - half, l.Slope + half}
}

// at gives the line, and the standard deviation of a measurement about it, for a
// day and the distance then. It reports false where there is no line.
func (t *Trend) at(on vehicle.Date, way vehicle.Distance) (height, spread float64, ok bool) {
	x := float64(t.from.DaysUntil(on)) / daysPerYear
	switch t.Basis {
	case NoBasis:
		return 0, 0, false
	case ByDistance:
		x = float64(way) / millimetreMi
	}
	return t.line.At(x), t.line.spread(x), true
}
