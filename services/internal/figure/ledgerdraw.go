package figure

import (
	"slices"

	"halfshaft/services/vehicle"
)

// rightRoom is the room for what the forecast comes to, at its end.
func (l *Ledger) rightRoom(r Reader, s *sheet) float64 {
	widest := 0.0
	if n := len(l.Forecast); n > 1 {
		last := l.Forecast[n-1]
		for _, d := range [3]vehicle.Distance{last.Low, last.Likely, last.High} {
			widest = max(widest, width(r.whole(d), s.size, true)+8)
		}
	}
	return widest
}

// drawReadings draws the readings: a line through those that count, and the
// doubted ones apart from it.
func (l *Ledger) drawReadings(r Reader, p *plot) {
	size := 6.0
	if len(l.Readings) > 80 {
		size = 4
	}
	var way, doubts []Point
	var says []string
	for _, reading := range l.Readings {
		at := Point{p.x.at(float64(reading.On.Ordinal())), p.y.at(reading.Distance.In(p.unit))}
		if !reading.Doubtful {
			way = append(way, at)
			p.symbol(at, Dot, size)
			continue
		}
		shape, text := Cross, r.say("ledger.doubtful", nil)
		if at.Y < p.inner.top || at.Y > p.inner.bottom { // beyond what is shown it is a sign at the edge
			shape, text = Triangle, r.say("ledger.beyond", facts{"distance": r.distance(reading.Distance)})
			if at.Y > p.inner.bottom {
				shape = Wedge
			}
			at.Y = max(p.inner.top+14, min(at.Y, p.inner.bottom-10))
		}
		p.symbol(at, shape, 9)
		doubts, says = append(doubts, at), append(says, text)
	}
	p.data(way, Stroke{Tone: Ink, Width: 1.5})
	if n := len(l.Forecast); n > 0 && len(way) > 0 { // since the last reading nobody knows
		first := l.Forecast[0]
		p.data([]Point{way[len(way)-1], {p.x.at(float64(first.On.Ordinal())), p.y.at(first.Likely.In(p.unit))}}, broken)
	}
	for i, at := range doubts {
		if p.label(p.plain(Point{}, End, Ink, says[i]), around(at, p.size)) >= 0 && len(doubts) > 3 {
			return // what one of many is, the others are
		}
	}
}

// drawFan draws where the distance is likely to go, and what it comes to.
func (l *Ledger) drawFan(r Reader, p *plot) {
	if len(l.Forecast) < 2 {
		return
	}
	var low, likely, high []Point
	for _, f := range l.Forecast {
		x := p.x.at(float64(f.On.Ordinal()))
		low = append(low, Point{x, p.y.at(f.Low.In(p.unit))})
		likely = append(likely, Point{x, p.y.at(f.Likely.In(p.unit))})
		high = append(high, Point{x, p.y.at(f.High.In(p.unit))})
	}
	back := slices.Clone(low)
	slices.Reverse(back)
	p.area(Path{Points: slices.Concat(high, back), Closed: true, Fill: Wash})
	p.data(low, dotted)
	p.data(high, dotted)
	p.data(likely, broken)
	last, n := l.Forecast[len(l.Forecast)-1], len(low)-1
	at := spread([]float64{high[n].Y, likely[n].Y, low[n].Y}, p.row(), p.inner.top, p.inner.bottom)
	for i, d := range [3]vehicle.Distance{last.High, last.Likely, last.Low} {
		t := p.plain(Point{p.inner.right + 6, at[i] + 0.35*p.size}, Start, Quiet, r.whole(d))
		if i == 1 {
			t.Tone, t.Bold = Ink, true
		}
		p.write(t)
	}
}

// drawLimits draws the distances at which something is due. Their names stand
// in the time past, where no reading is as high: before the line where there is
// room, or else above it. Limits too close for two names share one.
func (l *Ledger) drawLimits(r Reader, p *plot) {
	from := p.inner.left
	for _, reading := range l.Readings {
		if !reading.Doubtful {
			from = max(from, p.x.at(float64(reading.On.Ordinal())))
		}
	}
	before := from-p.inner.left > 200
	if !before {
		from = p.inner.left
	}
	var groups [][]DistanceLimit
	for i, limit := range l.Limits {
		y := p.y.at(limit.At.In(p.unit))
		line := []Point{{from, y}, {p.inner.right, y}}
		p.rule(line[0], line[1], medium)
		p.avoid(line)
		if i > 0 && p.y.at(groups[len(groups)-1][0].At.In(p.unit))-y < 1.5*p.row() {
			groups[len(groups)-1] = append(groups[len(groups)-1], limit)
			continue
		}
		groups = append(groups, []DistanceLimit{limit})
	}
	for _, g := range groups {
		y := p.y.at(g[0].At.In(p.unit))
		if before {
			l.nameBefore(r, p, from, y, g)
			continue
		}
		y = p.y.at(g[len(g)-1].At.In(p.unit))
		text := l.limitLabel(r, p, g, max(130, l.below(p, y-1.3*p.size)-from-12))
		p.label(p.plain(Point{}, Start, Ink, text), p.beside(from, y, text))
	}
}

// below gives how far to the right the forecast stays below a height.
func (l *Ledger) below(p *plot, y float64) float64 {
	for _, f := range l.Forecast {
		if p.y.at(f.High.In(p.unit)) < y+p.size {
			return p.x.at(float64(f.On.Ordinal()))
		}
	}
	return p.inner.right
}

// nameBefore writes the name of limits to the left of their line, or a little
// higher with a leader.
func (l *Ledger) nameBefore(r Reader, p *plot, from, y float64, group []DistanceLimit) {
	text := l.limitLabel(r, p, group, from-14-p.inner.left)
	t := p.plain(Point{}, End, Ink, text)
	var places []Text
	for _, up := range [5]float64{0, 1, 2, 3, 4} {
		places = append(places, Text{At: Point{from - 12, y - up*p.row() + 0.35*p.size}, Anchor: End})
	}
	places = append(places, p.beside(from, y, text)...)
	if i := p.label(t, places); i >= 0 && i < 5 {
		p.rule(Point{from - 10, places[i].At.Y - 0.35*p.size}, Point{from, y}, thin)
	}
}

// limitLabel names a limit, or the first of several. A name that is too long is
// cut, what stands around it is not.
func (l *Ledger) limitLabel(r Reader, p *plot, group []DistanceLimit, room float64) string {
	key, more := "ledger.limit", len(group)-1
	if more > 0 {
		key = "ledger.limits"
	}
	say := func(name string) string {
		return r.say(key, facts{"name": name, "more": r.count(more), "at": r.whole(group[0].At)})
	}
	return say(fitted(group[0].Name, room-width(say(""), p.size, false), p.size, false))
}

// key says what the signs mean, where a sign alone does not.
func (l *Ledger) key(r Reader) string {
	if len(l.Forecast) < 2 {
		return ""
	}
	text := r.say("ledger.key", nil)
	if l.Chance > 0 {
		text += " " + r.say("ledger.key.range", facts{"chance": r.count(l.Chance)})
	}
	return text
}

// beside are the places for the label of a line that runs across the plot from
// a place on.
func (p *plot) beside(from, y float64, text string) []Text {
	var all []Text
	room := p.inner.right - from - width(text, p.size, false) - 8
	for _, dy := range [2]float64{-0.26*p.size - 3, 0.82*p.size + 3} {
		for _, share := range [5]float64{0, 1, 0.5, 0.25, 0.75} {
			all = append(all, Text{At: Point{from + 4 + share*room, y + dy}, Anchor: Start})
		}
	}
	return all
}

// around are the places beside a point, the left ones first.
func around(at Point, size float64) []Text {
	up, mid, down := at.Y-0.6*size, at.Y+0.35*size, at.Y+1.3*size
	var all []Text
	for _, far := range [3]float64{8, 24, 48} {
		all = append(all,
			Text{At: Point{at.X - far, mid}, Anchor: End}, Text{At: Point{at.X + far, mid}, Anchor: Start},
			Text{At: Point{at.X - far/2, up - far/4}, Anchor: End}, Text{At: Point{at.X - far/2, down + far/4}, Anchor: End},
			Text{At: Point{at.X, up - far/2}, Anchor: Middle}, Text{At: Point{at.X, down + far/2}, Anchor: Middle},
			Text{At: Point{at.X + far/2, up - far/4}, Anchor: Start}, Text{At: Point{at.X + far/2, down + far/4}, Anchor: Start})
	}
	return all
}
