package forecast

import (
	"math"
	"slices"
)

// madSigma brings the median of absolute deviations to the scale of a standard
// deviation of the normal distribution.
const madSigma = 1.4826

// Line is a straight line fitted through points by the median of the slopes
// between any two (Theil 1950, Sen 1968). Up to 29 % of the points may be wild
// without spoiling it.
type Line struct {
	Slope     float64
	Intercept float64 // the median of y - Slope*x
	Through   float64 // the intercept of the line through the medians of x and of y: another convention
	Sigma     float64 // scale of the residuals about Intercept: 1.4826 times the median of their absolute values
}

// TheilSen fits a line. It reports false when no two points differ in x.
func TheilSen(x, y []float64) (Line, bool) {
	var slopes []float64
	for i := range x {
		for j := i + 1; j < len(x); j++ {
			if x[i] != x[j] {
				slopes = append(slopes, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
	}
	if len(slopes) == 0 {
		return Line{}, false
	}
	l := Line{Slope: Median(slopes)}
	residuals := make([]float64, len(x))
	for i := range x {
		residuals[i] = y[i] - l.Slope*x[i]
	}
	l.Intercept = Median(residuals)
	for i := range residuals {
		residuals[i] = math.Abs(residuals[i] - l.Intercept)
	}
	l.Sigma = madSigma * Median(residuals)
	l.Through = Median(slices.Clone(y)) - l.Slope*Median(slices.Clone(x))
	return l, true
}

// outlierSigmas is the distance from the line beyond which a point is flagged.
const outlierSigmas = 5

// Residual is how far a point lies above the line.
func (l Line) Residual(x, y float64) float64 { return y - l.Intercept - l.Slope*x }

// Outlier says whether a point lies more than five sigmas off the line.
func (l Line) Outlier(x, y float64) bool {
	return math.Abs(l.Residual(x, y)) > outlierSigmas*l.Sigma
}
