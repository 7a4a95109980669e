package figure_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/internal/figure"
)

// inside is the even-odd rule, counted along a ray.
func inside(points []figure.Point, q figure.Point) bool {
	in := false
	for i, a := range points {
		b := points[(i+1)%len(points)]
		if (a.Y > q.Y) != (b.Y > q.Y) && q.X < a.X+(b.X-a.X)*(q.Y-a.Y)/(b.Y-a.Y) {
			in = !in
		}
	}
	return in
}

func TestHatchingFillsAnAreaAndNothingElse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var points []figure.Point
		n := rapid.IntRange(3, 9).Draw(t, "corners")
		for i := range n { // a star around a place, so that it does not cross itself
			turn := 2 * math.Pi * float64(i) / float64(n)
			r := rapid.Float64Range(20, 150).Draw(t, "radius")
			points = append(points, figure.Point{X: 200 + r*math.Cos(turn), Y: 200 + r*math.Sin(turn)})
		}
		fill := rapid.SampledFrom([]figure.Fill{figure.Rising, figure.Falling}).Draw(t, "fill")
		lines := figure.Path{Points: points, Closed: true, Fill: fill}.Hatch()
		length := 0.0
		for _, l := range lines {
			a, b := l[0], l[1]
			length += math.Hypot(b.X-a.X, b.Y-a.Y)
			if (a.X-b.X)*(a.Y-b.Y) > 0 != (fill == figure.Falling) && math.Hypot(b.X-a.X, b.Y-a.Y) > 1e-6 {
				t.Fatalf("%v goes the wrong way", l)
			}
			for _, share := range []float64{0.001, 0.3, 0.5, 0.999} {
				if q := (figure.Point{X: a.X + share*(b.X-a.X), Y: a.Y + share*(b.Y-a.Y)}); math.Hypot(b.X-a.X, b.Y-a.Y) > 0.1 && !inside(points, q) {
					t.Fatalf("%v of %v lies outside %v", q, l, points)
				}
			}
		}
		area, border := 0.0, 0.0
		for i, a := range points {
			b := points[(i+1)%n]
			area += (a.X*b.Y - b.X*a.Y) / 2
			border += math.Hypot(b.X-a.X, b.Y-a.Y)
		}
		// each line stands for a strip as wide as the gap
		if got := length * figure.HatchGap; math.Abs(got-math.Abs(area)) > border*figure.HatchGap {
			t.Fatalf("lines for %.0f in an area of %.0f", got, math.Abs(area))
		}
	})
}

func TestOnlyHatchedAreasHaveLines(t *testing.T) {
	b := figure.Bar{X: 10, Y: 10, Width: 50, Height: 50, Fill: figure.Wash}
	if lines := b.Outline().Hatch(); lines != nil {
		t.Errorf("a wash has %d lines", len(lines))
	}
	if lines := (figure.Path{Points: b.Outline().Points, Fill: figure.Rising}).Hatch(); lines != nil {
		t.Errorf("an open line has %d lines", len(lines))
	}
}

// TestALedgerDrawsEachReadingWhereItBelongs looks for the dots: as many as
// readings that count, later ones further right, larger ones higher.
func TestALedgerDrawsEachReadingWhereItBelongs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := randomLedger(t)
		n := 0
		for _, r := range l.Readings {
			if !r.Doubtful {
				n++
			}
		}
		var dots []figure.Point
		for _, m := range l.Figure(reader(t), figure.Wide).Drawing.Marks {
			if s, ok := m.(figure.Symbol); ok && s.Shape == figure.Dot {
				dots = append(dots, s.At)
			}
		}
		if len(dots) != n {
			t.Fatalf("%d dots for %d readings", len(dots), n)
		}
		for i := 1; i < len(dots); i++ { // they are drawn in order of days
			if dots[i].X < dots[i-1].X {
				t.Fatalf("a later reading stands further left: %v after %v", dots[i], dots[i-1])
			}
		}
	})
}
