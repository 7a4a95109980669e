package forecast_test

import (
	"math"
	"slices"
	"testing"

	"halfshaft/services/schedule/forecast"
)

func TestTheMedianOfSlopesDoesNotMindAWildPoint(t *testing.T) {
	// Helsel & Hirsch, Statistical Methods in Water Resources, 10.1 (page from
	// memory), checks O-24.
	x, y := []float64{1, 2, 3, 4, 5, 6, 7}, []float64{1, 2, 3, 4, 5, 16, 7}
	line, ok := forecast.TheilSen(x, y)
	if !ok || !near(line.Slope, 1, 1e-12) {
		t.Errorf("slope %g, want 1", line.Slope)
	}
	b := leastSquares(t, y, ones(7), x)
	if !near(b[1], 1.714286, 1e-6) || !near(b[0], -1.428571, 1e-6) { // O-24
		t.Errorf("least squares %g, want -1.428571 and 1.714286", b)
	}
	if _, ok := forecast.TheilSen([]float64{5, 5}, []float64{1, 2}); ok {
		t.Error("a line through points of one day")
	}
}

func TestAWildReadingIsFlagged(t *testing.T) {
	// Checks O-25, computed with scipy and R.
	x := []float64{0, 61, 190, 372, 548, 733, 905, 1096}
	y := []float64{112, 391, 690, 1310, 6901, 2480, 2795, 3611}
	line, _ := forecast.TheilSen(x, y)
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"slope", line.Slope, 3.14693964},
		{"miles a year", line.Slope * 365.25, 1149.41970},
		{"intercept by the median residual", line.Intercept, 150.646306},
		{"intercept through the medians", line.Through, 447.407767},
		{"residual of the fifth", line.Residual(x[4], y[4]), 5025.8},
		{"sigma by the median deviation", line.Sigma, 64.5},
		{"least squares, a year", leastSquares(t, y, ones(8), x)[1] * 365.25, 1228.754},
	} {
		tolerance := 1e-6
		if c.want == 64.5 || c.want == 5025.8 {
			tolerance = 1e-3 // printed so
		}
		if !near(c.got, c.want, tolerance) {
			t.Errorf("%s: %.9g, want %.9g", c.name, c.got, c.want)
		}
	}
	for i := range x {
		if got, want := line.Outlier(x[i], y[i]), i == 4; got != want {
			t.Errorf("reading %d: flagged %t", i+1, got)
		}
	}
}

func TestLeastSquaresAgreesWithCertifiedValues(t *testing.T) {
	// The line that the forecast is compared with: NIST Statistical Reference
	// Datasets, Norris, certified values, checks O-26.
	x := []float64{
		0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5, 11.6,
		556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
	}
	y := []float64{
		0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8,
		557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
	}
	b := leastSquares(t, y, ones(36), x)
	if !near(b[0], -0.262323073774029, 1e-9) || !near(b[1], 1.00211681802045, 1e-12) {
		t.Errorf("Norris: %.15g", b)
	}
	if s := residualSD(y, b, ones(36), x); !near(s, 0.884796396144373, 1e-10) {
		t.Errorf("Norris: residual deviation %.15g", s)
	}
}

func TestLeastSquaresStandsIllConditionedData(t *testing.T) {
	// NIST StRD Longley, certified values, checks O-27; the data are those of R's
	// longley, from memory, in NIST's units: the certified values prove them.
	rows := [][7]float64{ // deflator, product, unemployed, armed forces, population, year, employed
		{83.0, 234289, 2356, 1590, 107608, 1947, 60323}, {88.5, 259426, 2325, 1456, 108632, 1948, 61122},
		{88.2, 258054, 3682, 1616, 109773, 1949, 60171}, {89.5, 284599, 3351, 1650, 110929, 1950, 61187},
		{96.2, 328975, 2099, 3099, 112075, 1951, 63221}, {98.1, 346999, 1932, 3594, 113270, 1952, 63639},
		{99.0, 365385, 1870, 3547, 115094, 1953, 64989}, {100.0, 363112, 3578, 3350, 116219, 1954, 63761},
		{101.2, 397469, 2904, 3048, 117388, 1955, 66019}, {104.6, 419180, 2822, 2857, 118734, 1956, 67857},
		{108.4, 442769, 2936, 2798, 120445, 1957, 68169}, {110.8, 444546, 4681, 2637, 121950, 1958, 66513},
		{112.6, 482704, 3813, 2552, 123366, 1959, 68655}, {114.2, 502601, 3931, 2514, 125368, 1960, 69564},
		{115.7, 518173, 4806, 2572, 127852, 1961, 69331}, {116.9, 554894, 4007, 2827, 130081, 1962, 70551},
	}
	columns := [][]float64{ones(len(rows))}
	for c := range 6 {
		var column []float64
		for _, r := range rows {
			column = append(column, r[c])
		}
		columns = append(columns, column)
	}
	var y []float64
	for _, r := range rows {
		y = append(y, r[6])
	}
	b := leastSquares(t, y, columns...)
	for i, want := range map[int]float64{0: -3482258.63459582, 1: 15.0618722713733, 6: 1829.15146461355} {
		if !near(b[i], want, 1e-6) {
			t.Errorf("Longley B%d: %.15g, want %.15g", i, b[i], want)
		}
	}
	if s := residualSD(y, b, columns...); !near(s, 304.854073561965, 1e-8) {
		t.Errorf("Longley: residual deviation %.15g", s)
	}
}

func ones(n int) []float64 { return slices.Repeat([]float64{1}, n) }

// leastSquares regresses y on the columns by Householder reflections.
func leastSquares(t *testing.T, y []float64, columns ...[]float64) []float64 {
	t.Helper()
	n, p := len(y), len(columns)
	if n < p {
		t.Fatal("too few rows")
	}
	y = slices.Clone(y)
	a := make([][]float64, p) // by columns
	for j := range columns {
		a[j] = slices.Clone(columns[j])
	}
	for k := range p {
		norm := 0.0
		for _, v := range a[k][k:] {
			norm = math.Hypot(norm, v)
		}
		if a[k][k] > 0 {
			norm = -norm
		}
		v := slices.Clone(a[k][k:])
		v[0] -= norm
		square := dot(v, v)
		for _, column := range append(slices.Clone(a[k:]), y) {
			factor := 2 * dot(v, column[k:]) / square
			for i := range v {
				column[k+i] -= factor * v[i]
			}
		}
	}
	b := make([]float64, p)
	for k := p - 1; k >= 0; k-- {
		b[k] = y[k]
		for j := k + 1; j < p; j++ {
			b[k] -= a[j][k] * b[j]
		}
		b[k] /= a[k][k]
	}
	return b
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// residualSD is the residual standard deviation of a fit.
func residualSD(y, b []float64, columns ...[]float64) float64 {
	sum := 0.0
	for i := range y {
		r := y[i]
		for j := range b {
			r -= b[j] * columns[j][i]
		}
		sum += r * r
	}
	return math.Sqrt(sum / float64(len(y)-len(b)))
}
