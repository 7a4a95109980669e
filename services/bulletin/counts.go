package bulletin

import (
	"slices"

	"halfshaft/services/vehicle"
)

// Counts are how many vehicles of a campaign stand where on a day. The classes
// are those that 49 CFR 573.7(b) asks for, as an example: counsel first.
type Counts struct {
	Vehicles      int // on the list
	Notified      int // told at least once
	Remedied      int
	NotNeeded     int // looked at, and in no need of it
	Unreachable   int // owner unknown
	Exported      int
	Scrapped      int
	Refused       int
	CalledOff     int
	Outstanding   int // none of these: open, notified, booked or done wrong
	NoLongerMeets int // of those not settled, how many meet the conditions no longer
}

// countsOn counts at the end of a day.
func countsOn(list []FollowUp, day vehicle.Date) (Counts, map[FollowUpState]int) {
	var c Counts
	states := map[FollowUpState]int{}
	for i := range list {
		st := list[i].StandingOn(day)
		if st.State == NoFollowUpState {
			continue
		}
		states[st.State]++
		c.add(&st)
	}
	return c, states
}

func (c *Counts) add(st *Standing) {
	c.Vehicles++
	if !st.NotifiedFirst.IsZero() {
		c.Notified++
	}
	if !st.NoLongerMeets.IsZero() && !st.State.Settled() {
		c.NoLongerMeets++
	}
	switch st.State {
	case Done:
		c.Remedied++
	case NotNeeded:
		c.NotNeeded++
	case OwnerUnknown:
		c.Unreachable++
	case Exported:
		c.Exported++
	case Scrapped:
		c.Scrapped++
	case Refused:
		c.Refused++
	case CalledOff:
		c.CalledOff++
	default:
		c.Outstanding++
	}
}

// since gives what was added from one count to a later one.
func (c Counts) since(before Counts) Counts {
	return Counts{
		Vehicles: c.Vehicles - before.Vehicles, Notified: c.Notified - before.Notified,
		Remedied: c.Remedied - before.Remedied, NotNeeded: c.NotNeeded - before.NotNeeded,
		Unreachable: c.Unreachable - before.Unreachable, Exported: c.Exported - before.Exported,
		Scrapped: c.Scrapped - before.Scrapped, Refused: c.Refused - before.Refused, CalledOff: c.CalledOff - before.CalledOff,
		Outstanding: c.Outstanding - before.Outstanding, NoLongerMeets: c.NoLongerMeets - before.NoLongerMeets,
	}
}

// CurvePoint is the completion of a campaign at the end of a day.
type CurvePoint struct {
	On        vehicle.Date
	Days      int // since the issue
	Vehicles  int // on the list by then
	Completed int // remedied, or looked at and in no need of it
	Scrapped  int // no more, and not completed: nobody waits for them
}

// Share is the share that is completed of those that can be, 0 to 1; 0 for none.
func (p CurvePoint) Share() float64 {
	can := p.Vehicles - p.Scrapped
	if can <= 0 {
		return 0
	}
	return float64(p.Completed) / float64(can)
}

// curve gives the days on which something changed, from the issue until on.
// Each follow-up is looked at on the days of its own steps alone.
func curve(issued vehicle.Date, all []FollowUp, on vehicle.Date) []CurvePoint {
	changes := map[vehicle.Date]CurvePoint{}
	if !issued.IsZero() && !issued.After(on) {
		changes[issued] = CurvePoint{}
	}
	for i := range all {
		f := &all[i]
		var before CurvePoint
		for _, day := range f.days(on) {
			now := pointOf(f.StandingOn(day))
			if now != before {
				changes[day] = changes[day].plus(now, 1).plus(before, -1)
			}
			before = now
		}
	}
	return summed(issued, changes)
}

func pointOf(st Standing) CurvePoint {
	var p CurvePoint
	if st.State != NoFollowUpState {
		p.Vehicles = 1
	}
	switch {
	case st.State.Completed():
		p.Completed = 1
	case st.State == Scrapped:
		p.Scrapped = 1
	}
	return p
}

func (p CurvePoint) plus(q CurvePoint, times int) CurvePoint {
	p.Vehicles += times * q.Vehicles
	p.Completed += times * q.Completed
	p.Scrapped += times * q.Scrapped
	return p
}

// days gives the days until on from which steps count, each once and in order.
func (f *FollowUp) days(on vehicle.Date) []vehicle.Date {
	var all []vehicle.Date
	for i := range f.Steps {
		if d := f.counts(&f.Steps[i]); !d.After(on) {
			all = append(all, d)
		}
	}
	slices.SortFunc(all, vehicle.Date.Compare)
	return slices.Compact(all)
}

// summed turns what changed on each day into what stood at its end.
func summed(issued vehicle.Date, changes map[vehicle.Date]CurvePoint) []CurvePoint {
	points := make([]CurvePoint, 0, len(changes))
	for day, p := range changes {
		p.On = day
		points = append(points, p)
	}
	slices.SortFunc(points, func(a, b CurvePoint) int { return a.On.Compare(b.On) })
	for i := range points {
		if i > 0 {
			points[i] = points[i].plus(points[i-1], 1)
		}
		if !issued.IsZero() {
			points[i].Days = issued.DaysUntil(points[i].On)
		}
	}
	return points
}
