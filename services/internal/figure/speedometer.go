package figure

import (
	"math"
	"slices"

	"halfshaft/services/vehicle"
)

// Speedometer is what a speedometer shows at true speeds, before and after
// something was changed, against what the type approval of new vehicles allows.
type Speedometer struct {
	Vehicle string
	Curves  []SpeedCurve // in the order in which they came about
}

// SpeedCurve is what was or is shown.
type SpeedCurve struct {
	Name   string       // "before", or the tyres: "7.50-16 cross-ply"
	Points []SpeedPoint // in order of true speed
}

// SpeedPoint is a pair of speeds in km/h.
type SpeedPoint struct{ True, Shown float64 }

// What may be shown, by UN Regulation No. 39 § 5.3: V1 is shown and V2 true,
// 0 <= V1 - V2 <= 0.1 V2 + 4 km/h. It is asked of new vehicles where the
// Regulation applies; the text of the figure says that it is an example.
const (
	allowedShare = 0.1
	allowedMore  = 4.0 // km/h
)

// mostOver is how much a dial may show above a true speed, in km/h.
func mostOver(trueSpeed float64) float64 { return allowedShare*trueSpeed + allowedMore }

// speed gives a speed in the reader's unit.
func (r Reader) speed(kmh float64) float64 {
	return kmh * float64(vehicle.Kilometre) / float64(r.unit().Distance())
}

// Figure draws how much more or less than the true speed is shown: the
// difference is what is looked for, and beside the speed itself it would hardly
// be seen.
func (s Speedometer) Figure(r Reader, layout Layout) Figure {
	f := Figure{Title: r.say("speed.title", facts{"vehicle": s.Vehicle}), Description: s.describe(r), Table: s.table(r).tidied()}
	sh := newSheet(layout)
	sh.washed = true
	if s.fastest() == 0 {
		f.Drawing = sh.nothing(r.say("speed.none", nil))
		return f
	}
	f.Drawing = s.draw(r, sh)
	return f
}

func (s *Speedometer) fastest() (kmh float64) {
	for _, c := range s.Curves {
		for _, p := range c.Points {
			kmh = max(kmh, p.True)
		}
	}
	return kmh
}

// curveStrokes tell curves apart without colour: the last is the strongest.
var curveStrokes = []Stroke{
	strong,
	broken,
	{Tone: Ink, Width: 1.5, Dash: []float64{2, 3}},
	{Tone: Ink, Width: 1.5, Dash: []float64{10, 3, 2, 3}},
	{Tone: Quiet, Width: 1},
}

func strokeOf(i, n int) Stroke { return curveStrokes[min(n-1-i, len(curveStrokes)-1)] }

func (s *Speedometer) draw(r Reader, sh *sheet) Drawing {
	x := niceTicks(span{0, r.speed(s.fastest())}, map[bool]int{true: 4, false: 7}[sh.narrow])
	over := span{0, r.speed(mostOver(s.fastest()))}
	for _, c := range s.Curves {
		for _, p := range c.Points {
			more := r.speed(p.Shown - p.True)
			over = span{min(over.low, more), max(over.high, more)}
		}
	}
	y := niceTicks(over, 5)
	labels := labelsOf(r, y)
	for i, v := range y.values() {
		if v > y.step/2 {
			labels[i] = "+" + labels[i]
		}
	}
	p := sh.across(labels, x.span, 14)
	p.down(0, map[bool]float64{true: 200, false: 260}[sh.narrow], y, labels, r.say("speed.over", facts{"unit": r.speedUnit()}))
	p.numbers(r, x, r.say("speed.true", facts{"unit": r.speedUnit()}))
	s.drawAllowed(r, p)
	for i, c := range s.Curves {
		var points []Point
		for _, at := range c.Points {
			points = append(points, Point{p.x.at(r.speed(at.True)), p.y.at(r.speed(at.Shown - at.True))})
		}
		p.data(points, strokeOf(i, len(s.Curves)))
	}
	said := ""
	for i, c := range s.Curves {
		var points []Point
		for _, at := range c.Points {
			points = append(points, Point{p.x.at(r.speed(at.True)), p.y.at(r.speed(at.Shown - at.True))})
		}
		text := fitted(c.Name, (p.inner.right-p.inner.left)*0.7, p.size, true)
		t := p.plain(Point{}, End, Ink, text)
		t.Bold = i == len(s.Curves)-1
		if len(points) == 0 || text == "" || p.label(t, beneath(points, p.size)) < 0 {
			said += " " + r.say("speed.line."+lineWords[min(len(s.Curves)-1-i, len(lineWords)-1)], facts{"name": c.Name})
		}
	}
	sh.foot(r.say("speed.key", nil) + said)
	return sh.drawing()
}

// lineWords name the strokes of curveStrokes in a phrase.
var lineWords = []string{"full", "dashed", "dotted", "mixed", "thin"}

// drawAllowed draws what the Regulation allows, and where the truth is.
func (s *Speedometer) drawAllowed(r Reader, p *plot) {
	zero, top := p.y.at(0), p.x.high
	kmh := top / r.speed(1)
	band := []Point{
		{p.inner.left, zero}, {p.inner.right, zero},
		{p.inner.right, p.y.at(r.speed(mostOver(kmh)))}, {p.inner.left, p.y.at(r.speed(mostOver(0)))},
	}
	for i := range band { // the axis may go a little further than the fastest speed
		band[i].Y = max(band[i].Y, p.inner.top)
	}
	p.area(Path{Points: band, Closed: true, Fill: Wash})
	p.rule(band[2], band[3], dotted)
	p.avoid(band[2:])
	p.rule(band[0], band[1], medium)
	p.avoid(band[:2])
}

// beneath are places for the name of a curve along it: above and below it, the
// right end first.
func beneath(points []Point, size float64) []Text {
	var all []Text
	first, last := points[0], points[len(points)-1]
	for _, share := range [6]float64{1, 0.85, 0.7, 0.55, 0.4, 0.25} {
		x := first.X + share*(last.X-first.X)
		y := level(points, x)
		for _, dy := range [6]float64{-0.6 * size, 1.25 * size, -1.4 * size, 2 * size, -2.2 * size, 2.8 * size} {
			all = append(all, Text{At: Point{x, y + dy}, Anchor: End})
		}
	}
	return all
}

// level is how high a polyline runs at x.
func level(points []Point, x float64) float64 {
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		if x <= b.X && b.X > a.X {
			return a.Y + (b.Y-a.Y)*max(0, (x-a.X)/(b.X-a.X))
		}
	}
	return points[len(points)-1].Y
}

// judge says of a curve whether it stays in what is allowed.
func (c *SpeedCurve) judge() string {
	const hair = 1e-6
	under, over := false, false
	for _, p := range c.Points {
		more := p.Shown - p.True
		under, over = under || more < -hair, over || more > mostOver(p.True)+hair
	}
	switch {
	case under:
		return "speed.under"
	case over:
		return "speed.above"
	}
	return "speed.within"
}

func (s *Speedometer) describe(r Reader) []string {
	var says []string
	for _, c := range s.Curves {
		if n := len(c.Points); n > 0 {
			p := c.Points[n-1]
			says = append(says, r.say("speed.says", facts{
				"name": c.Name, "true": decimal(r, r.speed(p.True)), "shown": r.number(r.speed(p.Shown), 1), "unit": r.speedUnit(),
			}), r.say(c.judge(), nil))
		}
	}
	if len(says) == 0 {
		says = append(says, r.say("speed.none", nil))
	}
	return append(says, r.say("speed.law", nil))
}

// table has each true speed at which something is known to be shown.
func (s *Speedometer) table(r Reader) Table {
	t := Table{
		Caption: r.say("speed.title", facts{"vehicle": s.Vehicle}),
		Heads:   []string{r.say("speed.true", facts{"unit": r.speedUnit()})},
	}
	var speeds []float64
	for _, c := range s.Curves {
		t.Heads = append(t.Heads, r.say("speed.shown", facts{"name": c.Name}))
		for _, p := range c.Points {
			speeds = append(speeds, p.True)
		}
	}
	t.Heads = append(t.Heads, r.say("speed.least", nil), r.say("speed.most", nil))
	slices.Sort(speeds)
	for _, v := range slices.Compact(speeds) {
		row := []string{decimal(r, r.speed(v))}
		for _, c := range s.Curves {
			shown := ""
			for _, p := range c.Points {
				if p.True == v {
					shown = r.number(r.speed(p.Shown), 1)
				}
			}
			row = append(row, shown)
		}
		t.Rows = append(t.Rows, append(row, decimal(r, r.speed(v)), r.number(r.speed(v+mostOver(v)), 1)))
	}
	return t
}

// decimal writes a number with one decimal, or none where that says it all.
func decimal(r Reader, v float64) string {
	if math.Abs(v-math.Round(v)) < 0.005 {
		return r.number(v, 0)
	}
	return r.number(v, 1)
}
