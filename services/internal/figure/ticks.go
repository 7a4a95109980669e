package figure

import (
	"math"
	"time"

	"halfshaft/services/vehicle"
)

// span is the range of values that an axis shows.
type span struct{ low, high float64 }

// nice is a number near x that people like: 1, 2 or 5 times a power of ten.
// It is the nearest with round, and else the next above (P. Heckbert, "Nice
// Numbers for Graph Labels", in A. Glassner, ed., Graphics Gems, Academic
// Press 1990).
func nice(x float64, round bool) float64 {
	power := math.Pow(10, math.Floor(math.Log10(x)))
	steps := [3]float64{1, 2, 5}
	if round {
		steps = [3]float64{1.5, 3, 7}
	}
	switch f := x / power; {
	case f < steps[0], !round && f <= steps[0]:
		return power
	case f < steps[1], !round && f <= steps[1]:
		return 2 * power
	case f < steps[2], !round && f <= steps[2]:
		return 5 * power
	}
	return 10 * power
}

// ticks are the marks of an axis of numbers.
type ticks struct {
	span     span // from the first tick to the last
	step     float64
	decimals int // that a label needs
}

// niceTicks gives about n ticks around a range. A range without extent, or
// that is no range at all, gets one.
func niceTicks(s span, n int) ticks {
	if math.IsNaN(s.low) || math.IsInf(s.low, 0) || math.IsNaN(s.high) || math.IsInf(s.high, 0) || s.low > s.high {
		s = span{0, 1}
	}
	// No reader asks for a millionth, and no label has room for it.
	if extent := s.high - s.low; extent <= max(1e-6, 1e-9*math.Abs(s.high), 1e-9*math.Abs(s.low)) {
		around := math.Abs(s.high) * 0.1
		if around < 1e-3 {
			around = 1
		}
		s = span{s.low - around, s.high + around}
	}
	step := nice(nice(s.high-s.low, false)/float64(max(n-1, 1)), true)
	// a hair's breadth, so that 0.3 is no less than three times 0.1
	const hair = 1e-9
	t := ticks{step: step, span: span{
		math.Floor(s.low/step+hair) * step, math.Ceil(s.high/step-hair) * step,
	}}
	t.decimals = max(0, int(-math.Floor(math.Log10(step)+hair)))
	return t
}

// wholeTicks is niceTicks for what is counted: no step is below 1.
func wholeTicks(s span, n int) ticks {
	t := niceTicks(s, n)
	if t.step < 1 {
		t = ticks{step: 1, span: span{math.Floor(s.low), math.Ceil(s.high)}}
		if t.span.low == t.span.high {
			t.span.high++
		}
	}
	return t
}

// values are the ticks themselves.
func (t ticks) values() []float64 {
	n := int(math.Round((t.span.high - t.span.low) / t.step))
	all := make([]float64, 0, n+1)
	for i := range n + 1 {
		// counted from a whole multiple, so that no error adds up
		all = append(all, (math.Round(t.span.low/t.step)+float64(i))*t.step)
	}
	return all
}

// monthSteps are the distances of ticks on an axis of days, in months.
var monthSteps = []int{1, 2, 3, 6, 12, 24, 60, 120, 240, 600, 1200, 6000, 24000}

// monthTicks gives the first days of months in a range, so far apart that
// there are at most n of them, and how many months that is. Steps are counted
// from January, and those of years from the year 0.
func monthTicks(from, to vehicle.Date, n int) (days []vehicle.Date, step int) {
	first, last := from.Year*12+int(from.Month)-1, to.Year*12+int(to.Month)-1
	if from.Day > 1 {
		first++
	}
	step = monthSteps[len(monthSteps)-1]
	for _, s := range monthSteps {
		if count := floorDiv(last, s) - floorDiv(first-1, s); count <= max(n, 1) {
			step = s
			break
		}
	}
	for m := -floorDiv(-first, step) * step; m <= last; m += step {
		if d, err := vehicle.NewDate(floorDiv(m, 12), time.Month(m-floorDiv(m, 12)*12+1), 1); err == nil {
			days = append(days, d)
		}
	}
	return days, step
}

func floorDiv(a, b int) int { return int(math.Floor(float64(a) / float64(b))) }
