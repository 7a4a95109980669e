package figure

import (
	"cmp"
	"math"
	"slices"

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
		Table:       l.table(r).tidied(),
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
	p := s.across(labels, days, l.rightRoom(r, s))
	p.unit = unit
	var happened []note
	if at := float64(l.Today.Ordinal()); !l.Today.IsZero() && at >= days.low && at <= days.high {
		happened = append(happened, note{x: p.x.at(at), text: r.say("today", nil), shape: Wedge, bold: true})
	}
	for _, e := range l.Events {
		happened = append(happened, note{x: p.x.at(float64(e.On.Ordinal())), text: e.Name, shape: Diamond})
	}
	notes := p.above(happened, 3)
	height := 300.0
	if s.narrow {
		height = 220
	}
	p.down(notes.top, height, y, labels, r.unitName())
	notes.draw()
	p.days(r)
	l.drawFan(r, p) // first, so that what it comes to has its place at the right
	l.drawReadings(r, p)
	l.drawLimits(r, p)
	s.foot(l.key(r))
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
