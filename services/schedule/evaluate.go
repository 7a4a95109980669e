package schedule

import (
	"cmp"
	"slices"

	"halfshaft/services/vehicle"
)

// Schedule is where all items of a vehicle stand on a day.
type Schedule struct {
	On       vehicle.Date
	Statuses []Status // of Vehicle.Fits, in their order
	Ledger   Ledger
	Pace     Pace
	Distance vehicle.Distance // true distance estimated for the day

	evaluation
}

// Evaluate gives the schedule of a vehicle on a day: a pure function of its
// arguments.
func Evaluate(p *Plan, v *Vehicle, on vehicle.Date) *Schedule {
	s := &Schedule{}
	s.Evaluate(p, v, on)
	return s
}

// Evaluate computes the schedule anew into s, whose memory it uses again.
func (s *Schedule) Evaluate(p *Plan, v *Vehicle, on vehicle.Date) {
	e := &s.evaluation
	*e = evaluation{
		plan: p, vehicle: v, on: dayOf(on), delivered: dayOf(v.Delivered), ledger: &s.Ledger,
		lay: e.lay[:0], last: e.last[:0], works: e.works[:0], days: e.days, events: e.events[:0], travel: e.travel,
	}
	e.lay = spansOf(e.lay, v.Uses, setOf(LaidUp))
	e.hard = slices.ContainsFunc(v.Uses, func(f UseFact) bool { return f.Kind.Hard() })
	if e.hard {
		e.general = hardUse(v.Uses, 0)
	}
	s.Ledger.make(v.Segments, v.Marks, on)
	start := e.delivered
	if start == noDay {
		start = e.on
	}
	e.travel = newTravel(e.travel, v, e.ledger, e.lay, start, e.on)
	e.begin()
	s.Statuses = slices.Grow(s.Statuses[:0], len(v.Fits))[:len(v.Fits)]
	for i := range v.Fits {
		e.status(&v.Fits[i], &s.Statuses[i])
	}
	s.On, s.Pace, s.Distance = on, e.travel.pace(), e.travel.distance(e.on)
}

// LayUp is the declared lay-up that the day falls into or that comes next.
func (s *Schedule) LayUp() (start, end vehicle.Date, ok bool) {
	for _, l := range s.lay {
		if l.to >= dayOf(s.On) {
			return l.from.date(), l.to.date(), true
		}
	}
	return vehicle.Date{}, vehicle.Date{}, false
}

// Since is how far the vehicle has gone in an item's round by the day asked
// for, estimated; 0 when no round runs.
func (s *Schedule) Since(st *Status) vehicle.Distance {
	if st.anchor == noDay {
		return 0
	}
	return max(0, s.Distance-st.anchorAt)
}

// evaluation holds what the items of one vehicle share.
type evaluation struct {
	plan      *Plan
	vehicle   *Vehicle
	on        day
	delivered day
	ledger    *Ledger
	travel    Travel
	lay       layUps
	hard      bool      // whether any hard use is declared
	general   []span    // hard use by the general rule
	last      []done    // by item of the programme
	works     []work    // of all entries until then
	days      []day     // memory for keepCalendar
	events    []started // that happened, or are planned, in order of days

	// What was worked out just before: items share anchors and limits.
	ats   [memo]atMemo
	whens [memo]whenMemo
}

// memo is how much is remembered: a power of two.
const memo = 32

type atMemo struct {
	known bool
	day   day
	at    vehicle.Distance
}

type whenMemo struct {
	target vehicle.Distance
	day    day
}

// distanceOn is the true distance at the beginning of a day.
func (e *evaluation) distanceOn(d day) vehicle.Distance {
	m := &e.ats[d&(memo-1)]
	if !m.known || m.day != d {
		*m = atMemo{true, d, e.travel.distance(d)}
	}
	return m.at
}

// when is the day in whose course a distance is reached. The memory of distance
// 0 is empty, for no memory has a day of 0 and a target of 0.
func (e *evaluation) when(target vehicle.Distance) day {
	m := &e.whens[uint64(target)%(memo-1)]
	if m.target != target || target == 0 {
		*m = whenMemo{target, e.travel.when(float64(target))}
	}
	return m.day
}

// monthsAfter is the day that many months after an anchor.
func (e *evaluation) monthsAfter(anchor day, months int32) day {
	return dayOf(anchor.date().AddMonths(int(months)))
}

// work is one item done on a day, by its index in the programme.
type work struct {
	day  day
	item int32
}

// done is when an item was last done.
type done struct {
	day   day
	entry int32
}

// started is an event that may start items.
type started struct {
	kind  EventKind
	day   day
	event int32 // index in Vehicle.Events, -1 for a declared lay-up
}

// begin works out what was last done and which events there were.
func (e *evaluation) begin() {
	for range e.plan.items {
		e.last = append(e.last, done{noDay, -1})
	}
	for n := range e.vehicle.Entries {
		entry := &e.vehicle.Entries[n]
		d := dayOf(entry.Date)
		if d > e.on {
			continue
		}
		for _, id := range entry.Items {
			i, ok := e.plan.index[id]
			if !ok {
				continue
			}
			e.works = append(e.works, work{d, int32(i)})
			if d > e.last[i].day || d == e.last[i].day && e.after(int32(n), e.last[i].entry) {
				e.last[i] = done{d, int32(n)}
			}
		}
	}
	for n := range e.vehicle.Events {
		ev := &e.vehicle.Events[n]
		if d := dayOf(ev.Date); d <= e.on {
			e.events = append(e.events, started{ev.Kind, d, int32(n)})
		}
	}
	for _, s := range e.lay {
		if s.to-s.from < longLayUp {
			continue
		}
		e.events = append(e.events, started{LayUpBegins, s.from, -1})
		if s.to < endDay {
			e.events = append(e.events, started{Recommission, s.to + 1, -1})
		}
	}
	if len(e.events) > 1 {
		slices.SortFunc(e.events, e.compare)
	}
}

// after says whether an entry comes after another of its day: the one that went
// further. Names are drawn at random and tell nothing; between entries that say
// the same, it does not matter which.
func (e *evaluation) after(entry, other int32) bool {
	if a, b := e.distanceOf(entry), e.distanceOf(other); a != b {
		return a > b
	}
	return e.vehicle.Entries[entry].Record > e.vehicle.Entries[other].Record
}

// compare orders events: of one kind and day the one whose demand runs out
// first is the first.
func (e *evaluation) compare(a, b started) int {
	if a.day != b.day || a.kind != b.kind {
		return cmp.Or(int(a.day)-int(b.day), int(a.kind)-int(b.kind))
	}
	markA, nameA := e.markOf(a)
	markB, nameB := e.markOf(b)
	return cmp.Or(cmp.Compare(e.distanceAt(markA, a.day), e.distanceAt(markB, b.day)), cmp.Compare(nameA, nameB))
}

// markOf gives the reading and the name of an event; -1 and "" for a declared
// lay-up.
func (e *evaluation) markOf(s started) (mark int, name string) {
	if s.event < 0 {
		return -1, ""
	}
	ev := &e.vehicle.Events[s.event]
	return ev.Mark, ev.Record
}

// longLayUp is how long a lay-up must be, in days, to be worth putting the
// vehicle away and bringing it back (tasks.md Z01).
const longLayUp = 60

// lastDone is when an item was last done, by itself or by another that resets
// it.
func (e *evaluation) lastDone(it *planned) done {
	latest := done{noDay, -1}
	for _, n := range it.doneBy {
		if d := e.last[n]; d.day > latest.day {
			latest = d
		}
	}
	return latest
}

// nowhere is the status of an item that nothing has started.
var nowhere = Status{State: NothingToDo, event: -1, entry: -1, lastDone: noDay, here: noDay,
	anchor: noDay, cycle: noDay, due: noDay, timeDue: noDay, distDue: noDay, notBy: noDay, kept: noDay, actBy: noDay}

// status works out where one item stands: of several components where the one
// stands that is due first.
func (e *evaluation) status(fit *Fit, s *Status) {
	e.statusOf(fit, s)
	for next := fit.next; next != nil; next = next.next {
		var other Status
		if e.statusOf(next, &other); other.Before(s) < 0 {
			*s = other
		}
	}
}

// statusOf works out where an item stands with one component.
func (e *evaluation) statusOf(fit *Fit, s *Status) {
	it := &e.plan.items[fit.Item]
	last := e.lastDone(it)
	*s = nowhere
	s.Item, s.lastDone, s.entry, s.fit = fit.Item, last.day, last.entry, fit
	e.lastOnUnit(fit, s)
	if e.delivered == noDay || e.delivered > e.on {
		s.basis = basisNotDelivered
		return
	}
	e.round(it, s, last.day)
	if s.anchor == noDay {
		return
	}
	e.act(it, s)
	e.state(it, s)
}

// round finds the round that runs and when it is due. A version of the
// programme that asks for more than the one before it asks from its first day
// on, and never for a day before.
//
// vehicleLast is when it was last done to whatever stood there: an event that
// was answered then is answered.
func (e *evaluation) round(it *planned, s *Status, vehicleLast day) {
	var fresh Status
	if it.since != noDay {
		fresh = *s
	}
	if it.LayUp == OnlyInLayUp {
		e.whileLaidUp(it, s)
	} else {
		e.interval(it, s)
		if len(it.starts) > 0 && len(e.events) > 0 {
			e.startedBy(it, s, vehicleLast)
		}
	}
	if it.since == noDay || s.anchor == noDay || s.due >= it.since {
		return
	}
	before := endDay // the version before did not have it
	if it.before != nil {
		e.round(it.before, &fresh, vehicleLast)
		before = orEnd(fresh.due)
	}
	switch {
	case before <= s.due:
		return
	case before < it.since: // past when the version came
		*s = fresh
		return
	}
	s.due, s.Revised = it.since, true
	if s.Binding == DistanceLimb {
		s.distDue = s.due
	} else {
		s.timeDue = s.due
	}
}

// act finds the day to act on: where the due date falls into a lay-up, the
// work goes before it, after it, or nowhere, as the item says.
func (e *evaluation) act(it *planned, s *Status) {
	s.actBy = s.due
	if len(e.lay) == 0 || it.LayUp == StaysInLayUp || it.LayUp == OnlyInLayUp || s.due == endDay {
		return
	}
	l, in := coveredBy(e.lay, s.due)
	if !in {
		return
	}
	s.Moved = true
	switch {
	case it.LayUp == BeforeLayUp && e.on < l.from && s.anchor < l.from:
		s.actBy = l.from - 1
	case s.Event == LayUpBegins && e.on < l.from:
		s.actBy = l.from - 1
	case l.to < endDay:
		s.actBy = l.to + 1
	default:
		s.actBy = noDay // when it is brought back, and nobody knows when
	}
}

// state compares the day to act on with the day asked for.
func (e *evaluation) state(it *planned, s *Status) {
	switch {
	case s.actBy == noDay, s.actBy == endDay:
		s.State = NotYet
	case e.on > s.actBy:
		s.State = Overdue
	case e.on == s.actBy, s.notBy != noDay && e.on >= s.notBy && !s.Moved:
		s.State = Due
	case e.on >= s.actBy-day(it.notice()):
		s.State = Coming
	default:
		s.State = NotYet
	}
}
