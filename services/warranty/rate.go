package warranty

import (
	"math"

	"halfshaft/services/vehicle"
)

// ClaimRate is what is believed of the number of claims in a vehicle-year: a
// gamma distribution. Claims update it exactly (formula F7 of the design, the
// conjugate prior of a Poisson rate).
type ClaimRate struct {
	Shape float64 // 2 in the prior: as if so many claims had been seen
	Years float64 // 1 in the prior: in so many vehicle-years
}

// PriorRate is what is believed before anything is seen: two claims in one
// vehicle-year, very loosely. Common practice, no source.
func PriorRate() ClaimRate { return ClaimRate{Shape: 2, Years: 1} }

// Seen gives the rate after some claims in some vehicle-years.
func (r ClaimRate) Seen(claims int, vehicleYears float64) ClaimRate {
	return ClaimRate{Shape: r.Shape + float64(claims), Years: r.Years + vehicleYears}
}

// Mean is the expected number of claims in a vehicle-year.
func (r ClaimRate) Mean() float64 { return r.Shape / r.Years }

// Quantile is the rate below which the true one lies with probability p; NaN
// unless p lies strictly between 0 and 1 and the rate is one.
func (r ClaimRate) Quantile(p float64) float64 {
	if !(p > 0 && p < 1) || !(r.Shape > 0) || !(r.Years > 0) || math.IsInf(r.Shape, 1) {
		return math.NaN()
	}
	low, high := 0.0, r.Shape+1
	for gammaBelow(r.Shape, high) < p {
		low, high = high, 2*high
	}
	for range 200 {
		middle := low + (high-low)/2
		if middle == low || middle == high {
			break
		}
		if gammaBelow(r.Shape, middle) < p {
			low = middle
		} else {
			high = middle
		}
	}
	return high / r.Years
}

// Range is the interval in which the true rate lies with probability p, with as
// much left out below as above.
func (r ClaimRate) Range(p float64) (low, high float64) {
	return r.Quantile((1 - p) / 2), r.Quantile((1 + p) / 2)
}

// gammaBelow is the regularised lower incomplete gamma function P(a, x): by its
// series below a+1 and by the continued fraction of its complement above, which
// converge there (Abramowitz & Stegun 6.5.29 and 6.5.31, from memory).
func gammaBelow(a, x float64) float64 {
	if x <= 0 {
		return 0
	}
	logGamma, _ := math.Lgamma(a)
	front := math.Exp(a*math.Log(x) - x - logGamma)
	if x < a+1 {
		term := 1 / a
		sum := term
		for n := 1; n < 10_000 && term > sum*1e-17; n++ {
			term *= x / (a + float64(n))
			sum += term
		}
		return min(1, front*sum)
	}
	return max(0, 1-front*gammaFraction(a, x))
}

// gammaFraction is the continued fraction, by Lentz's method.
func gammaFraction(a, x float64) float64 {
	const tiny = 1e-300
	b := x + 1 - a
	c, d := 1/tiny, 1/b
	h := d
	for n := 1; n < 10_000; n++ {
		an := -float64(n) * (float64(n) - a)
		b += 2
		if d = an*d + b; math.Abs(d) < tiny {
			d = tiny
		}
		if c = b + an/c; math.Abs(c) < tiny {
			c = tiny
		}
		d = 1 / d
		h *= d * c
		if math.Abs(d*c-1) < 1e-16 {
			break
		}
	}
	return h
}

// DistanceBinds is the probability that a term of some months and some distance
// ends by the distance: that a vehicle, whose yearly distance is lognormal
// around a median with the spread sigma of its logarithm, runs further than that
// in the months (formula F10 of the design). It is 0 for a term without a limit
// of distance and NaN for one without a limit of time.
func DistanceBinds(t *Term, median vehicle.Distance, sigma float64) float64 {
	switch {
	case t.Months <= 0 || median <= 0 || !(sigma > 0):
		return math.NaN()
	case t.Distance <= 0:
		return 0
	}
	years := float64(t.Months) / 12
	z := math.Log(float64(t.Distance)/(float64(median)*years)) / sigma
	return math.Erfc(z/math.Sqrt2) / 2
}
