package typeset

import "halfshaft/services/internal/figure"

// grey is a drawing's tone on paper.
func grey(t figure.Tone) int {
	switch t {
	case figure.Quiet:
		return 85
	case figure.Faint:
		return 185
	case figure.Paper:
		return 255
	}
	return 0
}

// artistry draws the marks of one figure.
type artistry struct {
	*artist
	x, y, scale float64
}

// drawing draws a figure with its upper left corner at the mark.
func (a *artist) drawing(m mark) {
	d := &artistry{artist: a, x: m.x, y: m.y, scale: m.scale}
	a.pdf.SetLineJoinStyle("round")
	for _, one := range m.figure.Drawing.Marks {
		switch one := one.(type) {
		case figure.Path:
			d.path(one)
		case figure.Bar:
			d.path(one.Outline())
		case figure.Symbol:
			d.symbol(one)
		case figure.Text:
			d.text(one)
		}
	}
	a.pdf.SetLineJoinStyle("miter")
	a.pdf.SetDashPattern(nil, 0)
}

func (d *artistry) at(p figure.Point) (x, y float64) {
	return d.x + p.X*d.scale, d.y + p.Y*d.scale
}

// path fills a path and then strokes it.
func (d *artistry) path(p figure.Path) {
	if len(p.Points) == 0 {
		return
	}
	if g, ok := ground(p.Fill); ok && p.Closed {
		d.pdf.SetFillColor(g, g, g)
		d.trace(p)
		d.pdf.DrawPath("F")
	}
	if p.Fill == figure.Rising || p.Fill == figure.Falling {
		d.pen(figure.Stroke{Tone: figure.Quiet, Width: figure.HatchWidth})
		for _, l := range p.Hatch() {
			x, y := d.at(l[0])
			u, v := d.at(l[1])
			d.pdf.Line(x, y, u, v)
		}
	}
	if p.Stroke.Width > 0 {
		d.pen(p.Stroke)
		d.trace(p)
		d.pdf.DrawPath("D")
	}
}

// ground is the grey of an area that is filled without a hatching.
func ground(f figure.Fill) (int, bool) {
	switch f {
	case figure.Full:
		return 0, true
	case figure.Cleared:
		return 255, true
	case figure.Wash:
		return 228, true
	}
	return 0, false
}

func (d *artistry) trace(p figure.Path) {
	for i, q := range p.Points {
		x, y := d.at(q)
		if i == 0 {
			d.pdf.MoveTo(x, y)
		} else {
			d.pdf.LineTo(x, y)
		}
	}
	if p.Closed {
		d.pdf.ClosePath()
	}
}

func (d *artistry) pen(s figure.Stroke) {
	g := grey(s.Tone)
	d.pdf.SetDrawColor(g, g, g)
	d.pdf.SetLineWidth(s.Width * d.scale)
	dash := make([]float64, len(s.Dash))
	for i, n := range s.Dash {
		dash[i] = n * d.scale
	}
	d.pdf.SetDashPattern(dash, 0)
}

// symbol draws a sign around its place.
func (d *artistry) symbol(s figure.Symbol) {
	r := s.Size / 2
	x, y := s.At.X, s.At.Y
	line := figure.Stroke{Tone: s.Tone, Width: 1.5}
	corners := func(open bool, points ...figure.Point) {
		if open {
			d.path(figure.Path{Points: points, Closed: true, Stroke: line, Fill: figure.Cleared})
			return
		}
		g := grey(s.Tone)
		d.pdf.SetFillColor(g, g, g)
		d.trace(figure.Path{Points: points, Closed: true})
		d.pdf.DrawPath("F")
	}
	switch s.Shape {
	case figure.Dot, figure.Ring:
		d.circle(s, line)
	case figure.Cross:
		line.Width = 1.75
		d.path(figure.Path{Points: []figure.Point{{X: x - r, Y: y - r}, {X: x + r, Y: y + r}}, Stroke: line})
		d.path(figure.Path{Points: []figure.Point{{X: x - r, Y: y + r}, {X: x + r, Y: y - r}}, Stroke: line})
	case figure.Triangle:
		corners(false, figure.Point{X: x, Y: y - r}, figure.Point{X: x + r, Y: y + r}, figure.Point{X: x - r, Y: y + r})
	case figure.Wedge:
		corners(false, figure.Point{X: x - r, Y: y - r}, figure.Point{X: x + r, Y: y - r}, figure.Point{X: x, Y: y + r})
	case figure.Square:
		corners(false, figure.Point{X: x - r, Y: y - r}, figure.Point{X: x + r, Y: y - r}, figure.Point{X: x + r, Y: y + r}, figure.Point{X: x - r, Y: y + r})
	case figure.Diamond:
		corners(true, figure.Point{X: x, Y: y - r}, figure.Point{X: x + r, Y: y}, figure.Point{X: x, Y: y + r}, figure.Point{X: x - r, Y: y})
	}
}

func (d *artistry) circle(s figure.Symbol, line figure.Stroke) {
	x, y := d.at(s.At)
	r := s.Size / 2 * d.scale
	if s.Shape == figure.Dot {
		g := grey(s.Tone)
		d.pdf.SetFillColor(g, g, g)
		d.pdf.Circle(x, y, r, "F")
		return
	}
	d.pen(line)
	d.pdf.SetFillColor(255, 255, 255)
	d.pdf.Circle(x, y, r-0.75*d.scale, "FD")
}

func (d *artistry) text(t figure.Text) {
	f := sans
	if t.Bold {
		f = sansBold
	}
	size := t.Size * d.scale / Point
	text, _ := Printable(t.Text, d.faces.has)
	x, y := d.at(t.At)
	switch w := d.faces.width(text, f, size); t.Anchor {
	case figure.Middle:
		x -= w / 2
	case figure.End:
		x -= w
	}
	for _, p := range d.faces.pieces(text, f, size) {
		d.letters(mark{x: x, y: y, w: p.width, text: p.text, face: p.face, size: size, grey: grey(t.Tone)})
		x += p.width
	}
}
