package build

import (
	"slices"

	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
)

// Timeline is the life of a vehicle: how its odometer counted, and which unit
// stood where, from when until when.
type Timeline struct {
	Segments []Segment // without gaps, the first from the delivery (or the build, before it)
	Stays    []Stay    // in order of position, then of time

	// Within says of positions in an assembly in which: the output-shaft bearing
	// is in the transfer case.
	Within map[string]string
}

// Segment is a stretch of days during which the odometer counted alike.
type Segment struct {
	From, Until vehicle.Date // Until is the day of the change that ended it; zero for the last
	Dial        vehicle.Dial
	Tyre        drivetrain.Tyre
	Drive       drivetrain.Drive // axle ratio and speedometer drive
	Start       vehicle.Entered  // what the dial showed when it began, where that is recorded
	End         vehicle.Entered  // what the dial showed when it ended, where that is recorded
	NewDial     bool             // whether it began with another dial, or with this one set anew
	Change      string           // resource name of the change that began it; empty for the build
}

// Stay is the time of one unit at one position.
type Stay struct {
	Component   Component    // as it was fitted
	Origin      Origin       // what put it there
	From, Until vehicle.Date // Until is the day it was taken off; zero while it is there
	Began       string       // resource name of the change that fitted it; empty for the build
	Ended       string       // and of the one that took it off
	FromReading vehicle.Entered
	EndReading  vehicle.Entered
	Overhauls   []OverhaulOf // in order
}

// OverhaulOf is one overhaul of a unit where it stands.
type OverhaulOf struct {
	Date      vehicle.Date
	Change    string
	Reading   vehicle.Entered
	Component Component // as it is from then on
}

// Current is the component as it stands since the last overhaul, or as it was
// when it was taken off.
func (s *Stay) Current() Component {
	if n := len(s.Overhauls); n > 0 {
		return s.Overhauls[n-1].Component
	}
	return s.Component
}

// At gives the stays at a position, the oldest first.
func (t *Timeline) At(position string) []Stay {
	from, _ := slices.BinarySearchFunc(t.Stays, position, func(s Stay, p string) int { return compare(s.Component.Position, p) })
	to := from
	for to < len(t.Stays) && t.Stays[to].Component.Position == position {
		to++
	}
	return t.Stays[from:to:to]
}

// deepest is how many assemblies may stand within each other.
const deepest = 8

// Assemblies are the positions of what a position is in, the nearest first: with
// another of those comes another of this.
func (t *Timeline) Assemblies(position string) []string {
	var out []string
	for len(out) < deepest {
		next := t.Within[position]
		if next == "" {
			break
		}
		out, position = append(out, next), next
	}
	return out
}

// TimelineOf replays the whole life. The error is of kind FailedPrecondition
// when the record's release is not in the set.
func TimelineOf(rec Record, changes []Change, releases ReleaseSet) (Timeline, error) {
	r, err := newReplay(&rec, releases)
	if err != nil {
		return Timeline{}, err
	}
	b := newBiographer(r)
	r.watch = b.unit
	ordered := InOrder(changes)
	for i := range ordered {
		r.apply(&ordered[i])
		b.drive(&ordered[i])
	}
	return b.timeline(), nil
}

// biographer writes a timeline while a replay runs.
type biographer struct {
	replay   *replay
	segments []Segment
	stays    map[string][]Stay
}

func newBiographer(r *replay) *biographer {
	b := &biographer{replay: r, stays: make(map[string][]Stay, len(r.fitted))}
	for position, f := range r.fitted {
		b.stays[position] = []Stay{{Component: f.Component, Origin: f.Origin, From: f.Component.Fitted}}
	}
	from := r.record.Delivered
	if from.IsZero() {
		from = r.record.Built
	}
	b.segments = []Segment{{From: from, Start: r.record.DeliveryReading}}
	b.describe(&b.segments[0])
	return b
}

func (b *biographer) describe(s *Segment) {
	s.Dial, s.Tyre, s.Drive = b.replay.dial, b.replay.tyre, b.replay.drive
}

// unit is told what a change fitted, overhauled or took off.
func (b *biographer) unit(position string, now *Fitted, c *Change) {
	stays := b.stays[position]
	var open *Stay
	if n := len(stays); n > 0 && stays[n-1].Ended == "" {
		open = &stays[n-1]
	}
	if c.Kind == Overhaul && open != nil && now != nil {
		open.Overhauls = append(open.Overhauls, OverhaulOf{c.Date, c.Name(), c.Reading, now.Component})
		return
	}
	if open != nil {
		open.Until, open.Ended, open.EndReading = c.Date, c.Name(), c.Reading
	}
	if now != nil {
		b.stays[position] = append(stays, Stay{
			Component: now.Component, Origin: now.Origin, From: c.Date, Began: c.Name(), FromReading: c.Reading,
		})
	}
}

// drive begins a new segment when a change made the odometer count otherwise.
// Changes of one day make one segment; what the works changed before the
// delivery belongs to the first.
func (b *biographer) drive(c *Change) {
	switch c.Kind {
	case Tyres, AxleRatio, SpeedometerDrive, DialChanged:
	default:
		return
	}
	last := &b.segments[len(b.segments)-1]
	if c.Date.Before(last.From) {
		b.describe(last)
		return
	}
	if !(c.Date == last.From && last.Change != "") {
		last.Until, last.End = c.Date, c.Reading
		b.segments = append(b.segments, Segment{From: c.Date, Start: c.Reading, Change: c.Name()})
		last = &b.segments[len(b.segments)-1]
	}
	b.describe(last)
	if c.Kind == DialChanged {
		last.NewDial, last.Start = true, c.DialStart
	}
	b.sameDay(last, c)
}

// sameDay takes a reading that only a later change of the day recorded.
func (b *biographer) sameDay(last *Segment, c *Change) {
	before := &b.segments[len(b.segments)-2]
	if before.End.IsZero() {
		before.End = c.Reading
	}
	if last.Start.IsZero() && !last.NewDial {
		last.Start = c.Reading
	}
}

func (b *biographer) timeline() Timeline {
	t := Timeline{Segments: b.segments}
	for position, stays := range b.stays {
		t.Stays = append(t.Stays, stays...)
		if in := b.replay.call(position).within(); in != "" {
			if t.Within == nil {
				t.Within = map[string]string{}
			}
			t.Within[position] = in
		}
	}
	slices.SortStableFunc(t.Stays, func(x, y Stay) int { return compare(x.Component.Position, y.Component.Position) })
	return t
}
