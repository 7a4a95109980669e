package figure

import (
	"math"
	"slices"
)

// Drawing is a picture without a medium: marks in the order in which they are
// painted, on a sheet whose origin is its upper left corner. A unit is the
// pixel of a page at 100 % (1/96 inch), so that a text of size 12 is one of
// 9 points on paper when nothing is scaled.
type Drawing struct {
	Width, Height float64
	Marks         []Mark
}

// Mark is one of Path, Bar, Symbol and Text.
type Mark interface{ mark() }

// Point is a place on the sheet; Y grows downwards.
type Point struct{ X, Y float64 }

// Path is a line, a polyline, or with Closed an area.
type Path struct {
	Points []Point
	Closed bool
	Stroke Stroke
	Fill   Fill
}

// Bar is an upright rectangle, X and Y its upper left corner.
type Bar struct {
	X, Y, Width, Height float64
	Stroke              Stroke
	Fill                Fill
}

// Symbol is a small sign around a place. Size is its width and height.
type Symbol struct {
	At    Point
	Shape Shape
	Size  float64
	Tone  Tone
}

// Text is one line of text. At is on its base line, at the start, the middle
// or the end of it, as Anchor says.
type Text struct {
	At     Point
	Anchor Anchor
	Size   float64
	Bold   bool
	Tone   Tone
	Text   string
}

func (Path) mark()   {}
func (Bar) mark()    {}
func (Symbol) mark() {}
func (Text) mark()   {}

// Stroke is how a line is drawn. A Width of 0 is no line. Dash holds the
// lengths of drawn and left out pieces by turns, and is empty for a full line.
type Stroke struct {
	Tone  Tone
	Width float64
	Dash  []float64
}

// Tone is how much a mark stands out. There are no colours that mean anything:
// a figure is read as well in black on white.
type Tone int

// The tones, the strongest first. On paper they are black, a dark grey, a
// light grey and white.
const (
	Ink   Tone = iota // what is measured, and what is said about it
	Quiet             // axes, units, what is secondary
	Faint             // grid lines and borders
	Paper             // the ground, where a mark stands clear of what lies below
)

// Fill is how an area is filled.
type Fill int

// The fills. A wash is a light grey on paper; the hatchings are lines on the
// bare ground (see Path.Hatch), dark enough to be told apart in a copy.
const (
	Hollow  Fill = iota // not at all
	Full                // with ink
	Cleared             // with the ground
	Wash                // with a light tone
	Rising              // hatched from lower left to upper right
	Falling             // hatched from upper left to lower right
)

// Shape is the form of a symbol.
type Shape int

// The shapes: those for places of data, then those for what happened.
const (
	Dot      Shape = iota // a filled circle
	Ring                  // an open circle, filled with the ground
	Cross                 // two strokes, as a saltire
	Triangle              // filled, pointing upwards
	Wedge                 // filled, pointing downwards
	Square                // filled
	Diamond               // open, filled with the ground
)

// Anchor is where in a text its place is.
type Anchor int

// The anchors.
const (
	Start Anchor = iota
	Middle
	End
)

// HatchGap is the distance between two lines of a hatching, and HatchWidth
// how thick they are. They are drawn in the tone Quiet.
const (
	HatchGap   = 5.0
	HatchWidth = 0.75
)

// Outline gives a bar as a path.
func (b Bar) Outline() Path {
	right, below := b.X+b.Width, b.Y+b.Height
	return Path{
		Points: []Point{{b.X, b.Y}, {right, b.Y}, {right, below}, {b.X, below}},
		Closed: true, Stroke: b.Stroke, Fill: b.Fill,
	}
}

// Hatch gives the lines that fill an area whose Fill is Rising or Falling, cut
// off at its border, for a medium that has no patterns. They lie on one raster
// for the whole sheet, so that areas that meet look like one.
func (p Path) Hatch() [][2]Point {
	// Lines at 45 degrees: x+y is constant on rising ones, x-y on falling ones.
	sign := 1.0
	switch {
	case !p.Closed || len(p.Points) < 3:
		return nil
	case p.Fill == Falling:
		sign = -1
	case p.Fill != Rising:
		return nil
	}
	level := func(q Point) float64 { return q.X + sign*q.Y }
	low, high := math.Inf(1), math.Inf(-1)
	for _, q := range p.Points {
		low, high = min(low, level(q)), max(high, level(q))
	}
	step := HatchGap * math.Sqrt2
	var lines [][2]Point
	for k := math.Ceil(low / step); k*step < high; k++ {
		at := k * step
		var xs []float64
		for i, a := range p.Points {
			b := p.Points[(i+1)%len(p.Points)]
			la, lb := level(a), level(b)
			if (la <= at) == (lb <= at) {
				continue // both ends on one side: no border is crossed
			}
			xs = append(xs, a.X+(b.X-a.X)*(at-la)/(lb-la))
		}
		slices.Sort(xs)
		for i := 0; i+1 < len(xs); i += 2 {
			lines = append(lines, [2]Point{{xs[i], sign * (at - xs[i])}, {xs[i+1], sign * (at - xs[i+1])}})
		}
	}
	return lines
}
