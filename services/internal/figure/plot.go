package figure

import (
	"halfshaft/services/vehicle"
)

// The strokes of the figures.
var (
	grid   = Stroke{Tone: Faint, Width: 1}
	axis   = Stroke{Tone: Quiet, Width: 1}
	thin   = Stroke{Tone: Quiet, Width: 1}
	strong = Stroke{Tone: Ink, Width: 2}
	medium = Stroke{Tone: Ink, Width: 1.25}
	broken = Stroke{Tone: Ink, Width: 1.5, Dash: []float64{6, 4}}
	dotted = Stroke{Tone: Quiet, Width: 1.25, Dash: []float64{2, 3}}
)

// scale maps values to places on the sheet.
type scale struct {
	span
	from, to float64
}

func (c scale) at(v float64) float64 {
	if c.high == c.low {
		return (c.from + c.to) / 2
	}
	return c.from + (c.to-c.from)*(v-c.low)/(c.high-c.low)
}

// plot is a sheet with two axes. It is set up in three steps: across, for which
// the labels at its left must be known; above, which tells how much room is
// needed there; and down.
type plot struct {
	*sheet
	inner box
	x, y  scale
	unit  vehicle.Unit // of distances along either
}

// across fixes the left and right of what is drawn: labels stand at its left,
// and right is the room at its right.
func (s *sheet) across(labels []string, x span, right float64) *plot {
	widest := 0.0
	for _, text := range labels {
		widest = max(widest, width(text, s.size, false))
	}
	p := &plot{sheet: s, inner: box{left: widest + 8, right: s.width - max(right, 8)}}
	p.x = scale{x, p.inner.left, p.inner.right}
	return p
}

// down fixes the top and bottom, and draws the grid of the axis at the left
// with the unit above it.
func (p *plot) down(top, height float64, y ticks, labels []string, unit string) {
	p.inner.top = top + p.row() + 8
	p.inner.bottom = p.inner.top + height
	p.height = p.inner.bottom + p.row() + 9
	p.y = scale{y.span, p.inner.bottom, p.inner.top}
	if t := p.plain(Point{0, top + p.size}, Start, Quiet, fitted(unit, p.width, p.size, false)); t.Text != "" {
		p.texts = append(p.texts, clearing(t, boxOf(t))) // stems pass behind it
		p.write(t)
	}
	for i, v := range y.values() {
		at := p.y.at(v)
		if at > p.inner.bottom+0.5 || at < p.inner.top-0.5 {
			continue
		}
		if at < p.inner.bottom-0.5 {
			p.ground(Point{p.inner.left, at}, Point{p.inner.right, at})
		}
		p.write(p.plain(Point{p.inner.left - 6, at + 0.35*p.size}, End, Quiet, labels[i]))
	}
	p.rule(Point{p.inner.left, p.inner.bottom}, Point{p.inner.right, p.inner.bottom}, axis)
}

// labelsOf writes ticks.
func labelsOf(r Reader, t ticks) []string {
	var all []string
	for _, v := range t.values() {
		all = append(all, r.number(v, t.decimals))
	}
	return all
}

// tick draws a tick below the axis with its label, unless the label would cover
// another or leave the sheet.
func (p *plot) tick(x float64, row int, text string) {
	p.rule(Point{x, p.inner.bottom}, Point{x, p.inner.bottom + 4}, axis)
	t := p.plain(Point{x, p.inner.bottom + 8 + p.size + float64(row)*p.row()}, Middle, Quiet, text)
	w := width(text, p.size, false) / 2
	t.At.X = max(w+1, min(x, p.width-w-1))
	if p.isFree(boxOf(t)) {
		p.write(t)
	}
}

// numbers draws an axis of numbers at the foot, with the unit under it.
func (p *plot) numbers(r Reader, t ticks, unit string) {
	p.height += p.row()
	for _, v := range t.values() {
		p.tick(p.x.at(v), 0, r.number(v, t.decimals))
	}
	text := fitted(unit, p.width, p.size, false)
	at := max((p.inner.left+p.inner.right)/2, width(text, p.size, false)/2)
	at = min(at, p.width-width(text, p.size, false)/2)
	p.write(p.plain(Point{at, p.inner.bottom + 8 + p.size + p.row()}, Middle, Quiet, text))
}

// days draws an axis of days at the foot: the values of the axis are ordinals.
// Years stand under the months, or alone where the ticks are years.
func (p *plot) days(r Reader) {
	from, to := vehicle.DateFromOrdinal(int(p.x.low)), vehicle.DateFromOrdinal(int(p.x.high))
	room := int((p.inner.right - p.inner.left) / (width("2026", p.size, false) + 12))
	days, step := monthTicks(from, to, room)
	if step%12 == 0 {
		for _, d := range days {
			p.tick(p.x.at(float64(d.Ordinal())), 0, year(d))
		}
		return
	}
	p.height += p.row()
	named := 0 // the year that was written last
	for _, d := range days {
		x := p.x.at(float64(d.Ordinal()))
		p.tick(x, 0, r.shortMonth(d))
		if d.Year != named {
			p.tick(x, 1, year(d))
			named = d.Year
		}
	}
	if len(days) == 0 { // a span within one month
		p.tick(p.inner.left, 0, r.shortDate(from))
	}
}

func year(d vehicle.Date) string { return d.String()[:4] }
