package figure_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/internal/figure"
	"halfshaft/services/vehicle"
)

func TestTicksAreThoseOfThePublishedExamples(t *testing.T) {
	// P. Heckbert, "Nice Numbers for Graph Labels", Graphics Gems (Academic
	// Press 1990), first paragraph: "if the data range is 105 to 543, we'd
	// probably want to plot the range from 100 to 600 and put tick marks every
	// 100 units. Or if the data range is 2.04 to 2.16, we'd probably plot a range
	// from 2.00 to 2.20 with a tick spacing of 0.05." NTICK is 5 in its program.
	for _, c := range []struct{ low, high, first, last, step float64 }{
		{105, 543, 100, 600, 100},
		{2.04, 2.16, 2.00, 2.20, 0.05},
	} {
		step, _, values := figure.NiceTicks(c.low, c.high, 5)
		if first, last := values[0], values[len(values)-1]; !near(step, c.step) || !near(first, c.first) || !near(last, c.last) {
			t.Errorf("%g to %g: from %g to %g every %g, want %g to %g every %g", c.low, c.high, first, last, step, c.first, c.last, c.step)
		}
	}
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*max(1, math.Abs(a), math.Abs(b)) }

func TestTicksEncloseWhatTheyMeasureInNiceSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-1e6, 1e6).Draw(t, "low")
		high := low + rapid.OneOf(rapid.Float64Range(1e-3, 1), rapid.Float64Range(0, 1e7)).Draw(t, "extent")
		n := rapid.IntRange(2, 12).Draw(t, "n")
		step, decimals, values := figure.NiceTicks(low, high, n)
		hair := 1e-6 * step
		if values[0] > low+hair || values[len(values)-1] < high-hair {
			t.Fatalf("%g to %g do not enclose %g to %g", values[0], values[len(values)-1], low, high)
		}
		power := math.Pow(10, math.Floor(math.Log10(step)+1e-9))
		if f := step / power; !near(f, 1) && !near(f, 2) && !near(f, 5) {
			t.Fatalf("a step of %g", step)
		}
		if len(values) > 2*n+2 {
			t.Fatalf("%d ticks where %d were asked for", len(values), n)
		}
		for i, v := range values {
			if i > 0 && !near(v-values[i-1], step) {
				t.Fatalf("from %g to %g is no step of %g", values[i-1], v, step)
			}
			if shown := v * math.Pow(10, float64(decimals)); math.Abs(shown-math.Round(shown)) > 1e-3 {
				t.Fatalf("%g cannot be written with %d decimals", v, decimals)
			}
		}
	})
}

func TestTicksOfWhatIsNoRangeAreFinite(t *testing.T) {
	for _, c := range [][2]float64{{math.NaN(), 1}, {0, math.Inf(1)}, {5, 3}, {0, 0}, {7, 7}, {1e-30, 2e-30}, {-4, -4}} {
		step, _, values := figure.NiceTicks(c[0], c[1], 5)
		if len(values) < 2 || len(values) > 12 || !(step > 0) || math.IsInf(step, 0) {
			t.Errorf("%v: %d ticks every %g", c, len(values), step)
		}
	}
}

func TestWhatIsCountedHasNoTicksBetweenWholeNumbers(t *testing.T) {
	for high := range 40 {
		step, values := figure.Wholly(0, float64(high), 5)
		if step < 1 || step != math.Round(step) || values[len(values)-1] < float64(high) || len(values) < 2 {
			t.Errorf("0 to %d: %v", high, values)
		}
	}
}

// TestTicksOfMonths compares with a dumb search: every first day of a month in
// the range whose month, counted from the year 0, the step divides.
func TestTicksOfMonths(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := days.Draw(t, "from")
		to := from.AddDays(rapid.IntRange(0, 20_000).Draw(t, "extent"))
		n := rapid.IntRange(1, 14).Draw(t, "n")
		got, step := figure.MonthTicks(from, to, n)
		if len(got) > n {
			t.Fatalf("%d ticks where %d have room", len(got), n)
		}
		var want []vehicle.Date
		for d := from; !d.After(to); d = d.AddDays(1) {
			if d.Day == 1 && (12*d.Year+int(d.Month)-1)%step == 0 {
				want = append(want, d)
			}
		}
		if !slices.Equal(got, want) {
			t.Fatalf("every %d months from %v to %v: %v, want %v", step, from, to, got, want)
		}
	})
}

func TestAScaleIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.Float64Range(-1e5, 1e5)
		low := number.Draw(t, "low")
		high := low + rapid.Float64Range(1e-3, 1e5).Draw(t, "extent")
		a, b := number.Draw(t, "a"), number.Draw(t, "b")
		if a > b {
			a, b = b, a
		}
		if x, y := figure.At(low, high, 40, 700, a), figure.At(low, high, 40, 700, b); x > y {
			t.Fatalf("%g stands before %g, at %g and %g", a, b, x, y)
		}
		if x, y := figure.At(low, high, 300, 10, a), figure.At(low, high, 300, 10, b); x < y {
			t.Fatalf("%g stands below %g, at %g and %g", a, b, x, y)
		}
		if !near(figure.At(low, high, 40, 700, low), 40) || !near(figure.At(low, high, 40, 700, high), 700) {
			t.Fatal("the ends are not at the ends")
		}
	})
}

// TestLabelsAreSpreadNoFurtherThanTheyMust compares with all places of a raster.
func TestLabelsAreSpreadNoFurtherThanTheyMust(t *testing.T) {
	const gap, low, high, raster = 2.0, 0.0, 10.0, 0.5
	rapid.Check(t, func(t *rapid.T) {
		at := make([]float64, 3)
		for i := range at {
			at[i] = float64(rapid.IntRange(-2, 24).Draw(t, "at")) / 2
		}
		cost := func(to []float64) (sum float64) {
			for i := range to {
				sum += (to[i] - at[i]) * (to[i] - at[i])
			}
			return sum
		}
		got := figure.Spread(at, gap, low, high)
		sorted := slices.Sorted(slices.Values(got))
		if sorted[0] < low-1e-9 || sorted[2] > high+1e-9 || sorted[1]-sorted[0] < gap-1e-9 || sorted[2]-sorted[1] < gap-1e-9 {
			t.Fatalf("%v become %v", at, got)
		}
		for a := low; a <= high; a += raster {
			for b := low; b <= high; b += raster {
				for c := low; c <= high; c += raster {
					if other := []float64{a, b, c}; math.Abs(a-b) >= gap && math.Abs(b-c) >= gap && math.Abs(a-c) >= gap && cost(other) < cost(got)-1e-9 {
						t.Fatalf("%v become %v, and %v is nearer", at, got, other)
					}
				}
			}
		}
	})
}
