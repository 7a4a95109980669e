package trend

import "math"

// Line is a straight line through points by least squares.
type Line struct {
	N                    int
	Slope, Intercept     float64
	SD                   float64 // of the residuals, with N-2 degrees of freedom; 0 for two points
	SlopeSD, InterceptSD float64
	R2                   float64 // share of the scatter that the line explains; 1 when there is none
	mean, sxx            float64
}

// LeastSquares fits a line. It reports false for fewer than two points, and
// when no two differ in x. Its arithmetic is centred, so that dates far from
// zero lose no digits.
func LeastSquares(x, y []float64) (Line, bool) {
	n := float64(len(x))
	if len(x) < 2 {
		return Line{}, false
	}
	var meanX, meanY float64
	for i := range x {
		meanX += x[i] / n
		meanY += y[i] / n
	}
	var sxx, sxy, syy float64
	for i := range x {
		dx, dy := x[i]-meanX, y[i]-meanY
		sxx, sxy, syy = sxx+dx*dx, sxy+dx*dy, syy+dy*dy
	}
	if sxx == 0 {
		return Line{}, false
	}
	l := Line{N: len(x), Slope: sxy / sxx, mean: meanX, sxx: sxx, R2: 1}
	l.Intercept = meanY - l.Slope*meanX
	var rest float64
	for i := range x {
		r := y[i] - meanY - l.Slope*(x[i]-meanX)
		rest += r * r
	}
	if syy > 0 {
		l.R2 = 1 - rest/syy
	}
	if len(x) > 2 {
		l.SD = math.Sqrt(rest / (n - 2))
	}
	l.SlopeSD = l.SD / math.Sqrt(sxx)
	l.InterceptSD = l.SD * math.Sqrt(1/n+meanX*meanX/sxx)
	return l, true
}

// At is the height of the line.
func (l Line) At(x float64) float64 { return l.Intercept + l.Slope*x }

// atLeast gives the line as if its points scattered by no less than floor.
func (l Line) atLeast(floor float64) Line {
	if l.SD < floor {
		l.SD = floor
		l.SlopeSD = floor / math.Sqrt(l.sxx)
		l.InterceptSD = floor * math.Sqrt(1/float64(l.N)+l.mean*l.mean/l.sxx)
	}
	return l
}

// spread is the standard deviation of a further measurement at x about the line.
func (l Line) spread(x float64) float64 {
	d := x - l.mean
	return l.SD * math.Sqrt(1+1/float64(l.N)+d*d/l.sxx)
}

// student10 and student05 are the values that Student's t exceeds with a chance
// of one in ten and one in twenty, for 1 to 30 degrees of freedom: NIST/SEMATECH
// e-Handbook of Statistical Methods, 1.3.6.7.2, columns 0.90 and 0.95.
var (
	student10 = [30]float64{3.078, 1.886, 1.638, 1.533, 1.476, 1.440, 1.415, 1.397, 1.383, 1.372, 1.363, 1.356, 1.350, 1.345, 1.341,
		1.337, 1.333, 1.330, 1.328, 1.325, 1.323, 1.321, 1.319, 1.318, 1.316, 1.315, 1.314, 1.313, 1.311, 1.310}
	student05 = [30]float64{6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.895, 1.860, 1.833, 1.812, 1.796, 1.782, 1.771, 1.761, 1.753,
		1.746, 1.740, 1.734, 1.729, 1.725, 1.721, 1.717, 1.714, 1.711, 1.708, 1.706, 1.703, 1.701, 1.699, 1.697}
)

// student looks a quantile up for a line; beyond 30 degrees of freedom that of
// 30 is taken, which is a little too wide.
func student(table *[30]float64, l Line) float64 { return table[min(max(l.N-2, 1), len(table))-1] }
