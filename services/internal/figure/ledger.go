package figure

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"halfshaft/services/vehicle"
)

// Ledger is the distance of a vehicle over its life: what was read, what
// happened to its instruments, where it is likely to go, and at which distances
// service is due. All distances are true ones, from where the record begins.
type Ledger struct {
	Vehicle  string // as it is called: "AM0147P"
	Today    vehicle.Date
	Readings []Reading
	Events   []InstrumentEvent
	Forecast []FanPoint // by month, in order of days; the first may be today
	Chance   int        // in percent, that the distance is within a range of the forecast
	Limits   []DistanceLimit
}

// Reading is a reading of the odometer.
type Reading struct {
	On       vehicle.Date
	Distance vehicle.Distance // what it comes to; of a doubtful one, what it would
	Shown    string           // as it was given: "69,012 miles"
	Doubtful bool
	Note     string // such as why it is doubted
}

// InstrumentEvent is a change of what the readings are read off: another
// instrument, or a roll-over of its figures.
type InstrumentEvent struct {
	On   vehicle.Date
	Name string // in two or three words: "new instrument"
	Note string // more, for the table
}

// FanPoint is where a distance is on a day to come.
type FanPoint struct {
	On                vehicle.Date
	Low, Likely, High vehicle.Distance
}

// DistanceLimit is a distance at which something is due.
type DistanceLimit struct {
	At   vehicle.Distance
	Name string
}

// Figure draws the ledger.
func (l Ledger) Figure(r Reader, layout Layout) Figure {
	l.sort()
	f := Figure{
		Title:       r.say("ledger.title", facts{"vehicle": l.Vehicle}),
		Description: l.describe(r),
		Table:       l.table(r),
	}
	s := newSheet(layout)
	if len(l.Readings) == 0 && len(l.Forecast) == 0 {
		f.Drawing = s.nothing(r.say("ledger.none", nil))
		return f
	}
	f.Drawing = l.draw(r, s)
	return f
}

// sort brings what was given in order, without touching it.
func (l *Ledger) sort() {
	l.Readings, l.Events, l.Limits = slices.Clone(l.Readings), slices.Clone(l.Events), slices.Clone(l.Limits)
	slices.SortStableFunc(l.Readings, func(a, b Reading) int { return a.On.Compare(b.On) })
	slices.SortStableFunc(l.Events, func(a, b InstrumentEvent) int { return a.On.Compare(b.On) })
	slices.SortStableFunc(l.Limits, func(a, b DistanceLimit) int { return cmp.Compare(a.At, b.At) })
}

// nothing is the drawing of a figure without data: it says so.
func (s *sheet) nothing(text string) Drawing {
	s.height = 4 * s.row()
	s.area(Bar{X: 0.5, Y: 0.5, Width: s.width - 1, Height: s.height - 1, Stroke: grid})
	s.write(s.plain(Point{s.width / 2, s.height/2 + 0.35*s.size}, Middle, Quiet, fitted(text, s.width-16, s.size, false)))
	return s.drawing()
}

func (l *Ledger) draw(r Reader, s *sheet) Drawing {
	unit := r.unit()
	days, way := l.extent(unit)
	wanted := 6
	if s.narrow {
		wanted = 5
	}
	y := niceTicks(way, wanted)
	labels := labelsOf(r, y)
	p := s.across(labels, days, 0)
	p.unit = unit
	var notes []note
	if at := float64(l.Today.Ordinal()); !l.Today.IsZero() && at >= days.low && at <= days.high {
		notes = append(notes, note{x: p.x.at(at), text: r.say("today", nil), shape: Wedge, bold: true})
	}
	for _, e := range l.Events {
		notes = append(notes, note{x: p.x.at(float64(e.On.Ordinal())), text: e.Name, shape: Diamond})
	}
	top, drawNotes := p.above(notes, 3)
	height := 300.0
	if s.narrow {
		height = 220
	}
	p.down(top, height, y, labels, r.unitName())
	drawNotes()
	p.days(r)
	l.drawFan(r, p)
	doubts := l.drawReadings(p)
	l.drawLimits(r, p)
	l.drawKey(r, p, doubts)
	return s.drawing()
}

// extent is which days and distances are shown. Doubtful readings do not
// count: one of them could press all others flat.
func (l *Ledger) extent(unit vehicle.Unit) (days, way span) {
	days = span{math.Inf(1), math.Inf(-1)}
	way = days
	on := func(d vehicle.Date) {
		days = span{min(days.low, float64(d.Ordinal())), max(days.high, float64(d.Ordinal()))}
	}
	at := func(d vehicle.Distance) { way = span{min(way.low, d.In(unit)), max(way.high, d.In(unit))} }
	for _, reading := range l.Readings {
		on(reading.On)
		if !reading.Doubtful {
			at(reading.Distance)
		}
	}
	for _, e := range l.Events {
		on(e.On)
	}
	for _, f := range l.Forecast {
		on(f.On)
		at(f.Low)
		at(f.High)
	}
	for _, limit := range l.Limits {
		at(limit.At)
	}
	if way.low > way.high { // nothing but doubtful readings
		for _, reading := range l.Readings {
			at(reading.Distance)
		}
	}
	if !l.Today.IsZero() && float64(l.Today.Ordinal()) > days.high {
		on(l.Today)
	}
	if way.low > 0 && way.low < 0.6*way.high {
		way.low = 0 // from where the record begins, unless that is far below
	}
	if days.low == days.high {
		days = span{days.low - 15, days.high + 15}
	}
	return days, way
}

// drawFan draws where the distance is likely to go, from the last reading that
// counts.
func (l *Ledger) drawFan(r Reader, p *plot) {
	if len(l.Forecast) < 2 {
		return
	}
	var low, likely, high []Point
	for _, f := range l.Forecast {
		x := p.x.at(float64(f.On.Ordinal()))
		low = append(low, Point{x, p.y.at(f.Low.In(r.unit()))})
		likely = append(likely, Point{x, p.y.at(f.Likely.In(r.unit()))})
		high = append(high, Point{x, p.y.at(f.High.In(r.unit()))})
	}
	back := slices.Clone(low)
	slices.Reverse(back)
	p.area(Path{Points: slices.Concat(high, back), Closed: true, Fill: Wash})
	p.data(low, dotted)
	p.data(high, dotted)
	p.data(likely, broken)
}

// drawReadings draws the readings, and gives the places of those doubted.
func (l *Ledger) drawReadings(p *plot) (doubts []Point) {
	size := 6.0
	if len(l.Readings) > 80 {
		size = 4
	}
	var way []Point
	for _, reading := range l.Readings {
		at := Point{p.x.at(float64(reading.On.Ordinal())), p.y.at(reading.Distance.In(p.unit))}
		if !reading.Doubtful {
			way = append(way, at)
			p.symbol(at, Dot, size)
			continue
		}
		shape := Cross
		switch { // beyond what is shown it is a sign at the edge
		case at.Y < p.inner.top:
			at.Y, shape = p.inner.top+10, Triangle
		case at.Y > p.inner.bottom:
			at.Y, shape = p.inner.bottom-10, Wedge
		}
		p.symbol(at, shape, 9)
		doubts = append(doubts, at)
	}
	p.data(way, Stroke{Tone: Ink, Width: 1.5})
	return doubts
}

// drawLimits draws the distances at which something is due. Neighbours that
// are too close for two labels share one.
func (l *Ledger) drawLimits(r Reader, p *plot) {
	for i := 0; i < len(l.Limits); {
		first := l.Limits[i]
		y := p.y.at(first.At.In(p.unit))
		names := []string{first.Name}
		p.rule(Point{p.inner.left, y}, Point{p.inner.right, y}, medium)
		for i++; i < len(l.Limits); i++ {
			at := p.y.at(l.Limits[i].At.In(p.unit))
			if y-at > p.row() {
				break
			}
			if at != y {
				p.rule(Point{p.inner.left, at}, Point{p.inner.right, at}, medium)
			}
			names = append(names, l.Limits[i].Name)
		}
		text := l.limitLabel(r, p, first.At, names)
		p.label(p.plain(Point{}, Start, Ink, text), p.beside(y, text))
	}
}

// limitLabel names a limit, or the first of several. A name that is too long is
// cut, what stands around it is not.
func (l *Ledger) limitLabel(r Reader, p *plot, at vehicle.Distance, names []string) string {
	key, more := "ledger.limit", len(names)-1
	if more > 0 {
		key = "ledger.limits"
	}
	say := func(name string) string {
		return r.say(key, facts{"name": name, "more": r.count(more), "at": r.distance(at)})
	}
	room := (p.inner.right-p.inner.left)*0.9 - width(say(""), p.size, false)
	return say(fitted(names[0], room, p.size, false))
}

// beside are the places for the label of a line that runs across the plot.
func (p *plot) beside(y float64, text string) []Text {
	var all []Text
	room := p.inner.right - p.inner.left - width(text, p.size, false) - 8
	for _, dy := range [2]float64{-4, 0.82*p.size + 3} {
		for _, share := range [5]float64{0, 1, 0.5, 0.25, 0.75} {
			all = append(all, Text{At: Point{p.inner.left + 4 + share*room, y + dy}, Anchor: Start})
		}
	}
	return all
}

// drawKey says what the signs mean, where they are: there is no legend.
func (l *Ledger) drawKey(r Reader, p *plot, doubts []Point) {
	if n := len(l.Forecast); n > 1 {
		last := l.Forecast[n-1]
		x := p.x.at(float64(last.On.Ordinal()))
		likely := p.y.at(last.Likely.In(p.unit))
		text := r.say("ledger.likely", nil)
		p.label(p.plain(Point{}, End, Ink, text), around(Point{x, likely}, p.size))
		if l.Chance > 0 {
			text := r.say("ledger.range", facts{"chance": strconv.Itoa(l.Chance)})
			p.label(p.plain(Point{}, End, Quiet, text), around(Point{x, p.y.at(last.Low.In(p.unit))}, p.size))
		}
	}
	for i := range doubts {
		if p.label(p.plain(Point{}, End, Ink, r.say("ledger.doubtful", nil)), around(doubts[i], p.size)) {
			return
		}
	}
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
