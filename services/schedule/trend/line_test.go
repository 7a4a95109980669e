package trend

import (
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

func near(got, want, relative float64) bool {
	return math.Abs(got-want) <= relative*math.Max(math.Abs(want), 1e-300)
}

// norris are the 36 points of NIST StRD, Norris (checks 4.3): y, x.
var norris = [][2]float64{{0.1, 0.2}, {338.8, 337.4}, {118.1, 118.2}, {888.0, 884.6}, {9.2, 10.1}, {228.1, 226.5}, {668.5, 666.3},
	{998.5, 996.3}, {449.1, 448.6}, {778.9, 777.0}, {559.2, 558.2}, {0.3, 0.4}, {0.1, 0.6}, {778.1, 775.5}, {668.8, 666.9}, {339.3, 338.0},
	{448.9, 447.5}, {10.8, 11.6}, {557.7, 556.0}, {228.3, 228.1}, {998.0, 995.8}, {888.8, 887.6}, {119.6, 120.2}, {0.3, 0.3}, {0.6, 0.3},
	{557.6, 556.8}, {339.3, 339.1}, {888.0, 887.2}, {998.5, 999.0}, {778.9, 779.0}, {10.2, 11.1}, {117.6, 118.3}, {228.9, 229.2},
	{668.4, 669.1}, {449.2, 448.9}, {0.2, 0.5}}

func TestTheLineAgreesWithCertifiedValues(t *testing.T) {
	var x, y []float64
	for _, p := range norris {
		y, x = append(y, p[0]), append(x, p[1])
	}
	l, ok := LeastSquares(x, y)
	if !ok || l.N != 36 {
		t.Fatal(l, ok)
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{ // NIST StRD Norris, certified values (checks O-26)
		{"B0", l.Intercept, -0.262323073774029}, {"B1", l.Slope, 1.00211681802045},
		{"sd of B0", l.InterceptSD, 0.232818234301152}, {"sd of B1", l.SlopeSD, 0.000429796848199937},
		{"residual sd", l.SD, 0.884796396144373}, {"R squared", l.R2, 0.999993745883712},
	} {
		if !near(c.got, c.want, 1e-11) {
			t.Errorf("%s: %.15g, want %.15g", c.name, c.got, c.want)
		}
	}
}

func TestTheLineOfAWildPoint(t *testing.T) {
	// Least squares of Helsel & Hirsch, Statistical Methods in Water Resources,
	// 10.1 (page from memory), checks O-24: this is what a wild point does to it.
	l, _ := LeastSquares([]float64{1, 2, 3, 4, 5, 6, 7}, []float64{1, 2, 3, 4, 5, 16, 7})
	if !near(l.Slope, 1.714286, 1e-6) || !near(l.Intercept, -1.428571, 1e-6) {
		t.Errorf("%g and %g, want 1.714286 and -1.428571", l.Slope, l.Intercept)
	}
}

// naive solves the normal equations in fractions, as they stand in any school
// book, and shares nothing with the line but the formula of its purpose.
func naive(x, y []float64) (slope, intercept, variance float64, ok bool) {
	r := func(f float64) *big.Rat { return new(big.Rat).SetFloat64(f) }
	mul := func(a, b *big.Rat) *big.Rat { return new(big.Rat).Mul(a, b) }
	n, sx, sy, sxx, sxy := r(float64(len(x))), r(0), r(0), r(0), r(0)
	for i := range x {
		sx.Add(sx, r(x[i]))
		sy.Add(sy, r(y[i]))
		sxx.Add(sxx, mul(r(x[i]), r(x[i])))
		sxy.Add(sxy, mul(r(x[i]), r(y[i])))
	}
	det := new(big.Rat).Sub(mul(n, sxx), mul(sx, sx))
	if len(x) < 2 || det.Sign() == 0 {
		return 0, 0, 0, false
	}
	b := new(big.Rat).Sub(mul(n, sxy), mul(sx, sy))
	b.Quo(b, det)
	a := new(big.Rat).Sub(sy, mul(b, sx))
	a.Quo(a, n)
	rest := r(0)
	for i := range x {
		e := new(big.Rat).Sub(r(y[i]), a)
		e.Sub(e, mul(b, r(x[i])))
		rest.Add(rest, mul(e, e))
	}
	if len(x) > 2 {
		rest.Quo(rest, r(float64(len(x)-2)))
	}
	slope, _ = b.Float64()
	intercept, _ = a.Float64()
	variance, _ = rest.Float64()
	return slope, intercept, variance, true
}

func TestTheLineAgreesWithTheNormalEquationsInFractions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 12).Draw(t, "n")
		var x, y []float64
		for range n {
			x = append(x, float64(rapid.IntRange(-2000, 9000).Draw(t, "day"))/365.25)
			y = append(y, float64(rapid.IntRange(-500, 500).Draw(t, "hundredths"))/100)
		}
		l, ok := LeastSquares(x, y)
		slope, intercept, variance, want := naive(x, y)
		if ok != want {
			t.Fatalf("ok %t, want %t", ok, want)
		}
		if !ok {
			return
		}
		// Points within days of each other make the slope of rounded numbers
		// uncertain in its last digits: they are compared on the scale of y.
		span := 30.0
		if math.Abs(l.Slope-slope)*span > 1e-9*(1+math.Abs(slope)*span) || math.Abs(l.Intercept-intercept) > 1e-9*(1+math.Abs(slope)*span) {
			t.Fatalf("%g + %g x, want %g + %g x", l.Intercept, l.Slope, intercept, slope)
		}
		if n > 2 && math.Abs(l.SD-math.Sqrt(variance)) > 1e-7 {
			t.Fatalf("sd %g, want %g", l.SD, math.Sqrt(variance))
		}
	})
}

// The table against the integral of Student's density by Simpson's rule.
func TestTheQuantilesOfStudent(t *testing.T) {
	upper := func(q float64, df int) float64 { // chance to exceed q
		v := float64(df)
		a, _ := math.Lgamma((v + 1) / 2)
		b, _ := math.Lgamma(v / 2)
		density := func(x float64) float64 {
			return math.Exp(a-b) / math.Sqrt(v*math.Pi) * math.Pow(1+x*x/v, -(v+1)/2)
		}
		const steps = 2000
		h, sum := q/steps, density(0)+density(q)
		for i := 1; i < steps; i++ {
			sum += density(float64(i)*h) * float64(2+2*(i%2))
		}
		return 0.5 - sum*h/3
	}
	for df := 1; df <= 30; df++ {
		for _, c := range []struct {
			q, chance float64
		}{{student10[df-1], 0.1}, {student05[df-1], 0.05}} {
			if got := upper(c.q, df); math.Abs(got-c.chance) > 1e-4 {
				t.Errorf("%d degrees of freedom: %g is exceeded with %g, want %g", df, c.q, got, c.chance)
			}
		}
	}
}

// A triangular distribution of half width one step has the standard deviation
// 1/√6 of a step (JCGM 100:2008, 4.3.9): counted over all pairs of roundings.
func TestTheShareOfAStep(t *testing.T) {
	const n = 400
	var sum float64
	for i := range n {
		for k := range n {
			d := (float64(i) - float64(k)) / n // the difference of two errors of rounding
			sum += d * d
		}
	}
	if got := math.Sqrt(sum / n / n); !near(got, stepShare, 1e-3) {
		t.Errorf("counted %g, want %g", got, stepShare)
	}
}
