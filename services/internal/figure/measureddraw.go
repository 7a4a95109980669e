package figure

import (
	"math"
	"slices"
)

func (m *Measured) draw(r Reader, s *sheet) Drawing {
	along, values := m.extent(r)
	y := niceTicks(values, 5)
	labels := labelsOf(r, y)
	xTicks := niceTicks(along, map[bool]int{true: 4, false: 7}[s.narrow])
	if m.ByDistance {
		along = span{min(along.low, xTicks.span.low), max(along.high, xTicks.span.high)}
	}
	p := s.across(labels, along, 0)
	p.unit = r.unit()
	var happened []note
	if today := float64(m.Today.Ordinal()); !m.ByDistance && !m.Today.IsZero() && today >= along.low && today <= along.high {
		happened = append(happened, note{x: p.x.at(today), text: r.say("today", nil), shape: Wedge, bold: true})
	}
	for _, n := range m.Renewals {
		happened = append(happened, note{x: m.x(p, n.Place), text: n.Name, shape: Diamond})
	}
	notes := p.above(happened, 3)
	p.down(notes.top, map[bool]float64{true: 200, false: 260}[s.narrow], y, labels, m.Unit)
	notes.draw()
	if m.ByDistance {
		p.numbers(r, xTicks, r.unitName())
	} else {
		p.days(r)
	}
	m.drawTrend(p)
	m.drawValues(r, p)
	m.drawLimits(r, p)
	m.drawMeeting(r, p)
	s.foot(m.key(r))
	return s.drawing()
}

// x is where a place lies on the axis at the foot.
func (m *Measured) x(p *plot, at Place) float64 { return p.x.at(m.along(p, at)) }

func (m *Measured) along(p *plot, at Place) float64 {
	if m.ByDistance {
		return at.At.In(p.unit)
	}
	return float64(at.On.Ordinal())
}

// extent is what is shown: all values, the limits, the trend, and where it
// likely meets its limit.
func (m *Measured) extent(r Reader) (along, values span) {
	along = span{math.Inf(1), math.Inf(-1)}
	values = along
	p := &plot{unit: r.unit()}
	at := func(place Place) {
		x := m.along(p, place)
		along = span{min(along.low, x), max(along.high, x)}
	}
	of := func(v float64) { values = span{min(values.low, v), max(values.high, v)} }
	for _, v := range m.Values {
		at(v.Place)
		of(v.Value)
	}
	for _, n := range m.Renewals {
		at(n.Place)
	}
	for _, t := range m.Trend {
		at(t.Place)
		of(t.Low)
		of(t.High)
	}
	for _, limit := range []*float64{m.Lower, m.Upper, m.Action} {
		if limit != nil {
			of(*limit)
		}
	}
	if m.Meets != nil {
		at(m.Meets.Likely)
		of(m.Meets.Limit)
	}
	if !m.ByDistance && !m.Today.IsZero() {
		at(Place{On: m.Today})
	}
	if along.low == along.high {
		along = span{along.low - 15, along.high + 15}
	}
	if room := (values.high - values.low) * 0.08; room > 0 { // so that limits have their hatching and their names
		low := values.low - room
		if values.low >= 0 {
			low = max(low, 0)
		}
		values = span{low, values.high + room}
	}
	return along, values
}

func (m *Measured) drawTrend(p *plot) {
	if len(m.Trend) < 2 {
		return
	}
	var low, likely, high []Point
	for _, t := range m.Trend {
		x := m.x(p, t.Place)
		low, likely, high = append(low, Point{x, p.y.at(t.Low)}), append(likely, Point{x, p.y.at(t.Likely)}), append(high, Point{x, p.y.at(t.High)})
	}
	back := slices.Clone(low)
	slices.Reverse(back)
	p.area(Path{Points: slices.Concat(high, back), Closed: true, Fill: Wash})
	p.data(low, dotted)
	p.data(high, dotted)
	p.data(likely, broken)
}

// drawValues draws the measurements, joined from one renewal to the next, and
// names the last.
func (m *Measured) drawValues(r Reader, p *plot) {
	var run []Point
	next := 0
	end := func() {
		p.data(run, thin)
		run = nil
	}
	for i, v := range m.Values {
		for next < len(m.Renewals) && m.compare(m.Renewals[next].Place, v.Place) < 0 {
			end()
			next++
		}
		at := Point{m.x(p, v.Place), p.y.at(v.Value)}
		if v.Aside {
			p.symbol(at, Cross, 8)
			continue
		}
		run = append(run, at)
		p.symbol(at, Dot, map[bool]float64{true: 4, false: 7}[len(m.Values) > 80])
		if i == len(m.Values)-1 {
			t := p.plain(Point{}, End, Ink, r.number(v.Value, m.Decimals))
			t.Bold = true
			defer p.label(t, around(at, p.size))
		}
	}
	end()
}

// drawLimits draws the ends of the window, hatched on the side where a value is
// not to be, and the action limit.
func (m *Measured) drawLimits(r Reader, p *plot) {
	const deep = 7.0
	line := func(v float64, stroke Stroke, key string) {
		y := p.y.at(v)
		ends := []Point{{p.inner.left, y}, {p.inner.right, y}}
		p.rule(ends[0], ends[1], stroke)
		p.avoid(ends)
		text := fitted(r.say(key, facts{"limit": r.number(v, m.Decimals)}), p.inner.right-p.inner.left-8, p.size, false)
		places := p.beside(p.inner.left, y, text)
		if key == "measured.upper" { // below it, on the side of the window
			places = slices.Concat(places[5:], places[:5])
		}
		p.label(p.plain(Point{}, Start, Ink, text), places)
	}
	hatch := func(top float64) {
		bottom := min(top+deep, p.inner.bottom)
		if top = max(top, p.inner.top); bottom > top {
			p.area(Bar{X: p.inner.left, Y: top, Width: p.inner.right - p.inner.left, Height: bottom - top, Fill: Rising})
		}
	}
	if m.Upper != nil {
		hatch(p.y.at(*m.Upper) - deep)
		line(*m.Upper, medium, "measured.upper")
	}
	if m.Lower != nil {
		hatch(p.y.at(*m.Lower))
		line(*m.Lower, medium, "measured.lower")
	}
	if m.Action != nil && (m.Upper == nil || *m.Action != *m.Upper) && (m.Lower == nil || *m.Action != *m.Lower) {
		line(*m.Action, Stroke{Tone: Ink, Width: 2, Dash: []float64{12, 3}}, "measured.acts")
	}
}

// drawMeeting draws when the limit is met: the range along the limit, and the
// likely day in it.
func (m *Measured) drawMeeting(r Reader, p *plot) {
	if m.Meets == nil {
		return
	}
	y := p.y.at(m.Meets.Limit)
	clip := func(x float64) float64 { return max(p.inner.left, min(x, p.inner.right)) }
	from, to := clip(m.x(p, m.Meets.Early)), p.inner.right
	if m.Meets.Late != (Place{}) {
		to = clip(m.x(p, m.Meets.Late))
	}
	at := Point{clip(m.x(p, m.Meets.Likely)), y}
	p.data([]Point{{from, y}, {max(from, to), y}}, Stroke{Tone: Ink, Width: 4})
	p.symbol(at, Diamond, 11)
	text := m.where(r, m.Meets.Likely)
	if !m.ByDistance {
		text = r.shortMonth(m.Meets.Likely.On) + " " + year(m.Meets.Likely.On)
	}
	t := p.plain(Point{}, End, Ink, text)
	t.Bold = true
	p.label(t, around(at, p.size))
}

func (m *Measured) key(r Reader) string {
	if len(m.Trend) < 2 {
		return ""
	}
	text := r.say("measured.key", nil)
	if m.Chance > 0 {
		text += " " + r.say("measured.key.range", facts{"chance": r.count(m.Chance)})
	}
	return text
}
