package forecast

import (
	"math"

	"halfshaft/services/vehicle"
)

// Usage is the forecast of one vehicle's use: how fast it is driven, and how
// sure that is. The zero value knows nothing; Estimate fills it.
//
// The time until a further way is driven is taken to follow the distribution of
// Birnbaum and Saunders (1969), which is that of the time a sum of many uneven
// contributions takes to pass a level: with median t and shape s, the chance
// that it is passed by x*t is Phi((sqrt(x)-1/sqrt(x))/s). The shape depends on
// the way:
//
//	s*s = rate + lumps/way + change*way
//
// for not knowing the pace, for driving in lumps (trips and tours even out over
// a long way), and for habits that change (more so over a long way). No term
// grows or shrinks faster than the way itself, which is what keeps a longer way
// from ever being driven sooner, at any chance.
type Usage struct {
	pace   float64 // millimetres in a unit of active time, at the median
	rate   float64 // variance of the logarithm of the pace
	lumps  float64 // millimetres
	change float64 // per millimetre

	yearly      float64 // active time in a calendar year as lived
	first, last int32   // days of the first and last point
	readings    int32
	season      SeasonSource
	from, to    int8 // months of the season, 0 for none
	changed     bool // the habit changed: older readings count little
	assumed     bool // the prior decides
	prior       Prior
}

// outer is the 90 % point of the normal distribution.
const outer = 1.2815515655446004

// PerDay is the pace at the median, in millimetres for a unit of active time: a
// day of middling season outside a lay-up.
func (u *Usage) PerDay() float64 { return u.pace }

// PerYear is what that comes to in a calendar year with its lay-ups.
func (u *Usage) PerYear() vehicle.Distance {
	return vehicle.Distance(math.Round(u.pace * u.yearly))
}

// shape is the spread of the time for a way.
func (u *Usage) shape(way float64) float64 {
	return math.Sqrt(u.rate + u.lumps/way + u.change*way)
}

// Reach gives the active time after the last point until that many millimetres
// more are driven: it is passed over with a chance of one in ten, one in two
// and nine in ten. All are nought for a way of nought or less, infinite for a
// vehicle that is not driven.
func (u *Usage) Reach(way float64) (p10, middle, p90 float64) {
	if way <= 0 {
		return 0, 0, 0
	}
	middle = way / u.pace
	h := outer / 2 * u.shape(way)
	x := h + math.Sqrt(1+h*h)
	x *= x
	return middle / x, middle, middle * x
}

// At gives the active time by which the way is driven with a given chance
// between 0 and 1; Reach is At for 0.1, 0.5 and 0.9.
func (u *Usage) At(way, chance float64) float64 {
	if way <= 0 {
		return 0
	}
	h := -math.Sqrt2 * math.Erfcinv(2*chance) / 2 * u.shape(way)
	x := h + math.Sqrt(1+h*h)
	return way / u.pace * x * x
}

// Probability is the chance that the way is driven within that much active time
// after the last point.
func (u *Usage) Probability(way, active float64) float64 {
	if way <= 0 {
		return 1
	}
	return math.Erfc(-u.score(way, active)/math.Sqrt2) / 2
}

// score is the normal score of that chance.
func (u *Usage) score(way, active float64) float64 {
	if active <= 0 {
		return math.Inf(-1)
	}
	x := math.Sqrt(active * u.pace / way)
	return (x - 1/x) / u.shape(way)
}
