package schedule

import (
	"math"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

// usage is what is known of how fast a dial goes forward, to weigh what may be
// behind a doubtful reading (checks.md F5, F7). The logarithm of what it does
// in a year is normal: beforehand with the median and spread of any such
// vehicle, then learned from each year that the readings tell of.
type usage struct {
	mean     float64 // of the logarithm of millimetres a year
	variance float64 // of that mean
	blocks   int     // years learned from
}

// The spreads are of the logarithm: among vehicles forecast.AssumedSigma, and
// from year to year about half of that, by our own judgement.
const (
	amongYears = 0.45
	tripMost   = 50 * vehicle.Mile // a way that says nothing about a habit
	shortest   = 0.2               // years: shorter times vary no more than this one
	tails      = 6.0               // degrees of freedom: habits change
)

// usage learns from the readings that count. They are taken in blocks of a year
// or more, so that a season is not taken for a habit.
func (r *run) usage() usage {
	precision := 1 / (forecast.AssumedSigma * forecast.AssumedSigma)
	sum := precision * math.Log(float64(priorPerYear))
	blocks := 0
	for i, from := 1, 0; i < len(r.counted); i++ {
		years := float64(r.counted[i].day-r.counted[from].day) / daysPerYear
		last := i == len(r.counted)-1
		if years < 1 && !(last && years >= 1.0/6) {
			continue
		}
		way := float64(r.counted[i].value - r.counted[from].value)
		z := math.Log(max(way, float64(tripMost)) / years)
		w := years / (amongYears * amongYears)
		precision, sum = precision+w, sum+w*z
		blocks, from = blocks+1, i
	}
	return usage{mean: sum / precision, variance: 1 / precision, blocks: blocks}
}

// perYear is the median of a year, in millimetres.
func (u usage) perYear() float64 { return math.Exp(u.mean) }

// step is the logarithm of the density, per millimetre, of going so far in so
// many days: Student's t of the logarithm, up to a constant. A way that cannot
// be driven has none.
func (u usage) step(way vehicle.Distance, days int64) float64 {
	if way < 0 || way > perDayMost*vehicle.Distance(days+1) {
		return math.Inf(-1)
	}
	years := float64(days) / daysPerYear
	spread := math.Sqrt(u.variance + amongYears*amongYears/(years+shortest))
	least := float64(tripMost)
	z := math.Log((float64(way)+least)/(u.perYear()*years+least)) / spread
	return -(tails+1)/2*math.Log1p(z*z/tails) - math.Log(spread*(float64(way)+least))
}

// whole is step from one reading to another, between which a value is weighed.
// It is 0 where only a person's word says that so far was driven: then any value
// between is as good as another, and the steps alone decide.
func (u usage) whole(value vehicle.Distance, d day, after *node) float64 {
	if s := u.step(after.value-value, int64(after.day-d)); !math.IsInf(s, -1) {
		return s
	}
	return 0
}

// chance is the logarithm of the density of a value on a day, between the
// readings on either side of it. With none it is the same for all that the dial
// shows.
func (u usage) chance(r *run, value vehicle.Distance, d day, before, after *node) float64 {
	switch {
	case before != nil && after != nil:
		steps := u.step(value-before.value, int64(d-before.day)) + u.step(after.value-value, int64(after.day-d))
		return steps - u.whole(before.value, before.day, after)
	case before != nil:
		return u.step(value-before.value, int64(d-before.day))
	case after != nil:
		return u.step(after.value-value, int64(after.day-d))
	}
	return -math.Log(float64(max(r.dial.Modulus(), vehicle.Mile)))
}
