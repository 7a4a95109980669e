package warranty_test

import (
	"math"
	"testing"

	. "halfshaft/services/warranty"
)

// The first value of each is from the check values of the project, where they
// were computed with R 4.2.2 and scipy 1.10.1 (formulas F7 and F10).

func TestTheClaimRateAgainstCheckValues(t *testing.T) {
	r := PriorRate().Seen(3, 4.5) // O-68
	low, high := r.Range(0.90)
	for name, c := range map[string][2]float64{
		"mean":              {r.Mean(), .909091},
		"lower 90 per cent": {low, .358209},
		"upper 90 per cent": {high, 1.664276},
	} {
		if math.Abs(c[0]-c[1]) > 5e-7 {
			t.Errorf("%s: got %.7f, want %.6f", name, c[0], c[1])
		}
	}
}

func TestTheDistanceLimbAgainstCheckValues(t *testing.T) {
	term := Term{Months: 12, Distance: miles(12000)} // O-69
	for _, c := range []struct {
		median int
		sigma  float64
		want   float64
	}{{3000, .7, .02382815}, {1500, .8, .00467068}} {
		if got := DistanceBinds(&term, miles(c.median), c.sigma); math.Abs(got-c.want) > 5e-9 {
			t.Errorf("%d miles a year: got %.8f, want %.8f", c.median, got, c.want)
		}
	}
}

// A gamma distribution with shape 1 is exponential, and one with a whole shape
// is the waiting time of a Poisson process: both have closed forms.
func TestQuantilesAgainstClosedForms(t *testing.T) {
	for _, p := range []float64{1e-9, .01, .5, .9, .999, 1 - 1e-9} {
		got := ClaimRate{Shape: 1, Years: 2}.Quantile(p)
		if want := -math.Log1p(-p) / 2; math.Abs(got-want) > 1e-6*want {
			t.Errorf("exponential at %g: got %g, want %g", p, got, want)
		}
	}
	for _, shape := range []int{2, 5, 40, 400} {
		for _, p := range []float64{.001, .05, .5, .95, .999} {
			x := ClaimRate{Shape: float64(shape), Years: 1}.Quantile(p)
			above, term := 0.0, math.Exp(-x) // P(fewer than shape events by x)
			for n := range shape {
				above += term
				term *= x / float64(n+1)
			}
			if math.Abs(1-above-p) > 1e-9 {
				t.Errorf("shape %d at %g: the quantile %g has %g below it", shape, p, x, 1-above)
			}
		}
	}
}

func TestQuantilesOfSmallShapes(t *testing.T) {
	// With shape 1/2 it is half of the square of a normal: P(a, x) = erf(sqrt x).
	for _, p := range []float64{.01, .3, .5, .9, .99} {
		x := ClaimRate{Shape: .5, Years: 1}.Quantile(p)
		if got := math.Erf(math.Sqrt(x)); math.Abs(got-p) > 1e-9 {
			t.Errorf("at %g: %g has %g below it", p, x, got)
		}
	}
}

func TestWhatIsNoRate(t *testing.T) {
	for _, c := range []struct{ shape, years, p float64 }{
		{0, 1, .5}, {-1, 1, .5}, {1, 0, .5}, {1, 1, 0}, {1, 1, 1}, {math.NaN(), 1, .5}, {1, math.NaN(), .5}, {1, 1, math.NaN()}, {math.Inf(1), 1, .5},
	} {
		if got := (ClaimRate{Shape: c.shape, Years: c.years}).Quantile(c.p); !math.IsNaN(got) {
			t.Errorf("%+v: got %g", c, got)
		}
	}
	if got := DistanceBinds(&Term{Months: 12}, miles(1000), .8); got != 0 {
		t.Errorf("without a limit of distance: %g", got)
	}
	for _, term := range []Term{{Distance: miles(12000)}, {Months: -1, Distance: miles(1)}} {
		if got := DistanceBinds(&term, miles(1000), .8); !math.IsNaN(got) {
			t.Errorf("%+v: %g", term, got)
		}
	}
	if got := DistanceBinds(&Term{Months: 12, Distance: miles(1)}, miles(1000), 0); !math.IsNaN(got) {
		t.Errorf("without a spread: %g", got)
	}
}
