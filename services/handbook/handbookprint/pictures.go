package handbookprint

import (
	"fmt"
	"strings"

	"halfshaft/services/handbook"
	"halfshaft/services/internal/figure"
	"halfshaft/services/internal/typeset"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// Engine speeds that the picture of road speeds shows, in turns a minute.
const fromRPM, toRPM = 1000, 4000

// onPaper is the width of an A5 page's text, so that the letters of a drawing are
// not made smaller there; a page is drawn for a telephone, and grows on a wider
// screen.
var onPaper, onScreen = figure.Layout{Width: 440}, figure.Narrow

func picture(p *handbook.Picture, changed bool, layout figure.Layout) typeset.Figure {
	reader := figure.Reader{Language: "en", Unit: vehicle.Unit(p.Unit)}
	out := typeset.Figure{Caption: p.Caption, Changed: changed}
	switch p.Kind {
	case handbook.IndicatedSpeedPicture:
		s := figure.Speedometer{Vehicle: p.Vehicle, Curves: []figure.SpeedCurve{{Name: "this vehicle"}}}
		for _, d := range p.Dial {
			s.Curves[0].Points = append(s.Curves[0].Points, figure.SpeedPoint{True: d.True, Shown: d.Shown})
		}
		out.Figure = s.Figure(reader, layout)
	case handbook.GearLeverPicture:
		out.Figure = levers(p)
	default:
		g := figure.RoadSpeeds{Vehicle: p.Vehicle, From: fromRPM, To: toRPM}
		for _, one := range p.Gears {
			name, of := ordinal(one.Gear)+", high", 0
			if one.Low {
				name, of = ordinal(one.Gear)+", low", 1
			}
			g.Gears = append(g.Gears, figure.Gear{Name: name, Range: of, Speed: one.PerThousand})
		}
		out.Figure = g.Figure(reader, layout)
	}
	return out
}

func ordinal(n int) string {
	switch n {
	case 1:
		return "1st"
	case 2:
		return "2nd"
	case 3:
		return "3rd"
	}
	return fmt.Sprintf("%dth", n)
}

// levers draws the gates of the two levers as the driver looks down on them, as
// wide as a telephone is.
func levers(p *handbook.Picture) figure.Figure {
	s := &sketch{}
	across := (len(p.Gears) + 1) / 2
	left, gap := 22.0, 46.0
	right := left + gap*float64(across)
	s.text((left+right)/2, 14, "Gear lever", true, 12)
	s.line(left, 100, right, 100)
	s.gate(left, 54, 146, "", "R") // reverse: left and back, past a stop
	for i, g := range p.Gears {
		x := left + gap*float64(i/2+1)
		if i%2 == 0 {
			s.line(x, 54, x, 100)
			s.mark(x, 54, fmt.Sprint(g.Gear), -12, unsynced(p, g.Gear))
		} else {
			s.line(x, 100, x, 146)
			s.mark(x, 146, fmt.Sprint(g.Gear), 22, unsynced(p, g.Gear))
		}
	}
	s.text(left+gap*1.5, 96, "N", false, 12)
	width := right + 20
	if p.Low {
		x := right + 156
		s.text(x-52, 14, "Transfer lever", true, 12)
		s.line(x, 40, x, 160)
		for i, at := range []string{"2H: rear wheels, high", "4H: all wheels, high", "N: no drive", "4L: all wheels, low"} {
			y := 40 + float64(i)*40
			s.marks = append(s.marks, figure.Symbol{At: figure.Point{X: x, Y: y}, Shape: figure.Dot, Size: 8})
			s.marks = append(s.marks, figure.Text{At: figure.Point{X: x - 12, Y: y + 4}, Anchor: figure.End, Size: 12, Text: at})
		}
		width = x + 18
	}
	return figure.Figure{
		Title: "The levers of " + p.Vehicle, Description: leversSaid(p), Table: leversTable(p),
		Drawing: figure.Drawing{Width: width, Height: 178, Marks: s.marks},
	}
}

func unsynced(p *handbook.Picture, gear int) bool {
	for _, g := range p.Unsynced {
		if g == gear {
			return true
		}
	}
	return false
}

func leversSaid(p *handbook.Picture) []string {
	said := []string{fmt.Sprintf("The gear lever has %d forward gears: odd ones forward, even ones back, from left to right; reverse is left and back.", len(p.Gears))}
	if len(p.Unsynced) > 0 {
		var names []string
		for _, g := range p.Unsynced {
			names = append(names, ordinal(g))
		}
		said = append(said, "A ring marks gears without synchromesh: "+wording.List(names, "and")+".")
	}
	if p.Low {
		said = append(said, "The transfer lever from front to back: rear wheels in high range, all wheels in high range, neutral, all wheels in low range.")
	}
	return said
}

func leversTable(p *handbook.Picture) figure.Table {
	t := figure.Table{Caption: "The levers", Heads: []string{"Position", "What it does"}}
	for i, g := range p.Gears {
		where := "forward"
		if i%2 == 1 {
			where = "back"
		}
		what := ordinal(g.Gear) + " gear, " + where
		if unsynced(p, g.Gear) {
			what += ", no synchromesh"
		}
		t.Rows = append(t.Rows, []string{fmt.Sprint(g.Gear), what})
	}
	t.Rows = append(t.Rows, []string{"R", "reverse, left and back"})
	if p.Low {
		t.Rows = append(t.Rows, []string{"2H", "rear wheels, high range"}, []string{"4H", "all wheels, high range"}, []string{"N", "no drive"}, []string{"4L", "all wheels, low range"})
	}
	return t
}

// sketch collects the marks of a drawing.
type sketch struct{ marks []figure.Mark }

func (s *sketch) line(x1, y1, x2, y2 float64) {
	s.marks = append(s.marks, figure.Path{Points: []figure.Point{{X: x1, Y: y1}, {X: x2, Y: y2}}, Stroke: figure.Stroke{Width: 2}})
}

func (s *sketch) text(x, y float64, text string, bold bool, size float64) {
	s.marks = append(s.marks, figure.Text{At: figure.Point{X: x, Y: y}, Anchor: figure.Middle, Size: size, Bold: bold, Text: text})
}

// gate draws the two ends of a way of the lever; a side without a name has none.
func (s *sketch) gate(x, up, down float64, upper, lower string) {
	if strings.TrimSpace(upper) != "" {
		s.line(x, up, x, 100)
		s.mark(x, up, upper, -12, false)
	}
	if strings.TrimSpace(lower) != "" {
		s.line(x, 100, x, down)
		s.mark(x, down, lower, 22, false)
	}
}

// mark is the end of a way, with its name above or below it; a ring where the
// gear has no synchromesh.
func (s *sketch) mark(x, y float64, name string, away float64, ring bool) {
	shape := figure.Dot
	if ring {
		shape = figure.Ring
	}
	s.marks = append(s.marks, figure.Symbol{At: figure.Point{X: x, Y: y}, Shape: shape, Size: 9})
	s.text(x, y+away, name, true, 13)
}
