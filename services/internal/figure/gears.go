package figure

import (
	"cmp"
	"math"
	"slices"
)

// RoadSpeeds is the road speed for each engine speed, in each gear.
type RoadSpeeds struct {
	Vehicle  string
	Gears    []Gear
	From, To float64 // the engine speeds that are shown, in revolutions a minute
}

// Gear is a gear in a range of the transfer box.
type Gear struct {
	Name  string  // "3rd, high"
	Range int     // 0 for the first range, whose lines are full, 1 for the next
	Speed float64 // km/h at 1,000 revolutions a minute
}

// Figure draws a line for each gear.
func (g RoadSpeeds) Figure(r Reader, layout Layout) Figure {
	g.Gears = slices.Clone(g.Gears)
	for i := range g.Gears { // backwards is as fast as forwards
		g.Gears[i].Speed = math.Abs(g.Gears[i].Speed)
	}
	slices.SortStableFunc(g.Gears, func(a, b Gear) int { return cmp.Or(cmp.Compare(a.Range, b.Range), -cmp.Compare(a.Speed, b.Speed)) })
	f := Figure{Title: r.say("gears.title", facts{"vehicle": g.Vehicle}), Description: g.describe(r), Table: g.table(r).tidied()}
	s := newSheet(layout)
	if len(g.Gears) == 0 || g.To <= g.From {
		f.Drawing = s.nothing(r.say("gears.none", nil))
		return f
	}
	f.Drawing = g.draw(r, s)
	return f
}

// rangeStrokes tell the ranges apart.
var rangeStrokes = []Stroke{{Tone: Ink, Width: 1.75}, {Tone: Ink, Width: 1.5, Dash: []float64{7, 4}}, {Tone: Ink, Width: 1.5, Dash: []float64{2, 3}}}

func (g *RoadSpeeds) draw(r Reader, s *sheet) Drawing {
	x := niceTicks(span{g.From, g.To}, map[bool]int{true: 5, false: 8}[s.narrow])
	x.span = span{min(g.From, g.To), g.To} // not beyond what the engine does
	fastest, widest := 0.0, 0.0
	names := make([]string, len(g.Gears))
	for i, gear := range g.Gears {
		fastest = max(fastest, r.speed(gear.Speed*g.To/1000))
		names[i] = fitted(gear.Name, s.width*0.3, s.size, false)
		widest = max(widest, width(names[i], s.size, false))
	}
	y := niceTicks(span{0, fastest}, 6)
	labels := labelsOf(r, y)
	p := s.across(labels, x.span, widest+24)
	height := max(map[bool]float64{true: 240, false: 300}[s.narrow], float64(len(g.Gears))*s.row())
	p.down(0, height, y, labels, r.speedUnit())
	g.drawEngineSpeeds(r, p)
	ends := make([]float64, len(g.Gears))
	for i, gear := range g.Gears {
		at := func(rpm float64) Point { return Point{p.x.at(rpm), p.y.at(r.speed(gear.Speed * rpm / 1000))} }
		p.data([]Point{at(g.From), at(g.To)}, rangeStrokes[max(0, min(gear.Range, len(rangeStrokes)-1))])
		ends[i] = at(g.To).Y
	}
	for i, to := range spread(ends, p.row(), p.inner.top-0.2*p.size, p.inner.bottom) {
		p.rule(Point{p.inner.right + 2, ends[i]}, Point{p.inner.right + 16, to}, thin)
		p.write(p.plain(Point{p.inner.right + 19, to + 0.35*p.size}, Start, Ink, names[i]))
	}
	return s.drawing()
}

// drawEngineSpeeds draws the axis at the foot, and lines up from it.
func (g *RoadSpeeds) drawEngineSpeeds(r Reader, p *plot) {
	x := niceTicks(span{g.From, g.To}, map[bool]int{true: 5, false: 8}[p.narrow])
	p.height += p.row()
	for _, v := range x.values() {
		if v >= g.From && v <= g.To {
			at := p.x.at(v)
			p.ground(Point{at, p.inner.top}, Point{at, p.inner.bottom})
			p.tick(at, 0, r.number(v, x.decimals))
		}
	}
	text := fitted(r.say("gears.engine", nil), p.width, p.size, false)
	half := width(text, p.size, false) / 2
	at := max(half, min((p.inner.left+p.inner.right)/2, p.width-half))
	p.write(p.plain(Point{at, p.inner.bottom + 8 + p.size + p.row()}, Middle, Quiet, text))
}

func (g *RoadSpeeds) describe(r Reader) []string {
	var says []string
	for _, gear := range g.Gears {
		says = append(says, r.say("gears.says", facts{"name": gear.Name, "speed": r.number(r.speed(gear.Speed), 1), "unit": r.speedUnit()}))
	}
	if len(says) == 0 {
		says = append(says, r.say("gears.none", nil))
	}
	return says
}

// table has a row for each engine speed of the axis, and the ends.
func (g *RoadSpeeds) table(r Reader) Table {
	t := Table{Caption: r.say("gears.caption", facts{"vehicle": g.Vehicle, "unit": r.speedUnit()}), Heads: []string{r.say("gears.engine", nil)}}
	for _, gear := range g.Gears {
		t.Heads = append(t.Heads, gear.Name)
	}
	if g.To <= g.From {
		return t
	}
	speeds := []float64{g.From, g.To}
	for _, v := range niceTicks(span{g.From, g.To}, 8).values() {
		if v > g.From && v < g.To {
			speeds = append(speeds, v)
		}
	}
	slices.Sort(speeds)
	for _, rpm := range speeds {
		row := []string{r.number(rpm, 0)}
		for _, gear := range g.Gears {
			row = append(row, r.number(r.speed(gear.Speed*rpm/1000), 1))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
