package schedule

import "halfshaft/services/vehicle"

// interval finds the round of an item that comes by itself: from the fitting
// of its component, from the delivery, or from the last time it was done.
func (e *evaluation) interval(it *planned, s *Status) {
	fit := s.fit
	if !it.begins && !it.recurs {
		if len(it.starts) == 0 {
			s.basis = basisOnFinding
		}
		return
	}
	begin, basis, prior := e.delivered, basisDelivery, vehicle.Distance(0)
	counted := begin // the day from which this vehicle's own distance counts
	if fit.bedding != noDay && it.FirstFrom != FromDelivery {
		begin, counted, basis, prior = fit.bedding, fit.fitted, basisFitting, fit.prior
		if fit.arrival != nil {
			s.here = counted
		}
	}
	bedding := it.begins && s.lastDone <= begin
	if bedding && counted > begin && beddedIn(it, begin, counted, prior) {
		begin, prior, bedding = counted, 0, false // it was bedded in before it came here
	}
	switch {
	case bedding:
		s.Bedding, s.basis = true, basis
		e.limits(it, s, begin, e.distanceOn(counted)-prior, it.First.Months, it.firstDistance)
	case !it.recurs:
		s.basis = basisOnce
	case s.lastDone >= begin && s.lastDone != noDay:
		s.basis = basisDone
		e.limits(it, s, s.lastDone, e.distanceDone(s), it.Every.Months, it.everyDistance)
		if it.KeepCalendarDays > 0 && !s.Severe {
			first := it.First.Months
			if !it.begins {
				first = it.Every.Months
			}
			e.keepCalendar(it, s, begin, first)
		}
	default:
		// An item without bedding-in begins with its component here: what is
		// new was not in use before.
		s.basis = basis
		e.limits(it, s, begin, e.distanceOn(counted)-prior, it.Every.Months, it.everyDistance)
	}
}

// distanceDone is the true distance of this vehicle when the item was last done.
// Where that was before the unit came here it is counted back from its coming,
// and may be less than nothing.
func (e *evaluation) distanceDone(s *Status) vehicle.Distance {
	if s.earlier != nil {
		return e.distanceOn(s.here) - s.earlier.Since
	}
	return e.distanceAt(e.vehicle.Entries[s.entry].Mark, s.lastDone)
}

// beddedIn says whether a component that came from another vehicle had its
// first limit behind it when it came.
func beddedIn(it *planned, began, came day, prior vehicle.Distance) bool {
	return it.firstDistance > 0 && prior >= it.firstDistance ||
		it.First.Months > 0 && dayOf(began.date().AddMonths(it.First.Months)) <= came
}

// distanceOf is the true distance at an entry: of its own reading where that
// counts.
func (e *evaluation) distanceOf(entry int32) vehicle.Distance {
	en := &e.vehicle.Entries[entry]
	return e.distanceAt(en.Mark, dayOf(en.Date))
}

func (e *evaluation) distanceAt(mark int, d day) vehicle.Distance {
	if mark >= 0 {
		if o := &e.ledger.Outcomes[mark]; o.State == Counted {
			return o.Distance
		}
	}
	return e.distanceOn(d)
}

// limits applies a limit from an anchor on. Hard use shortens it on the days on
// which it is declared, never for the days before: the item is due on the first
// day on which its normal limit is met, or its short limit on a day of hard use.
func (e *evaluation) limits(it *planned, s *Status, anchor day, at vehicle.Distance, months int, way vehicle.Distance) {
	s.anchor, s.cycle, s.anchorAt = anchor, anchor, at
	s.months, s.limit = int32(months), way
	if months > 0 {
		s.timeDue = e.monthsAfter(anchor, int32(months))
	}
	if way > 0 {
		s.dueAt = at + way
		s.distDue = max(anchor, s.here, e.when(s.dueAt))
	}
	if e.hard && it.shortens && !s.Bedding {
		e.shorten(it, s)
	}
	e.decide(s)
}

// shorten applies the short limits on the days of hard use.
func (e *evaluation) shorten(it *planned, s *Status) {
	hard := e.hardFor(it)
	if len(hard) == 0 {
		return
	}
	before := min(orEnd(s.timeDue), orEnd(s.distDue))
	if s.months > 0 && it.shortMonths < int(s.months) {
		if d := firstFrom(hard, max(s.here, e.monthsAfter(s.anchor, int32(it.shortMonths)))); d < s.timeDue {
			s.timeDue, s.months = d, int32(it.shortMonths)
		}
	}
	if s.limit > 0 && it.shortDistance < s.limit {
		target := s.anchorAt + it.shortDistance
		if d := firstFrom(hard, max(s.anchor, s.here, e.when(target))); d < s.distDue {
			s.distDue, s.limit = d, it.shortDistance
			s.dueAt = max(target, e.distanceOn(d))
		}
	}
	s.Severe = min(orEnd(s.timeDue), orEnd(s.distDue)) < before
}

// hardFor gives the days of hard use that count for an item.
func (e *evaluation) hardFor(it *planned) []span {
	if it.severeOn != 0 {
		return hardUse(e.vehicle.Uses, it.severeOn)
	}
	return e.general
}

func orEnd(d day) day {
	if d == noDay {
		return endDay
	}
	return d
}

// decide takes the limb that comes first; of two on one day the time limb.
func (e *evaluation) decide(s *Status) {
	s.due, s.Binding = orEnd(s.timeDue), TimeLimb
	if s.timeDue == noDay || s.distDue != noDay && s.distDue < s.timeDue {
		s.due, s.Binding = orEnd(s.distDue), DistanceLimb
	}
}

// whileLaidUp is the round of an item that exists only in a lay-up.
func (e *evaluation) whileLaidUp(it *planned, s *Status) {
	s.basis = basisOutsideLayUp
	l, in := coveredBy(e.lay, e.on)
	if !in {
		return
	}
	anchor, at := l.from, e.distanceOn(l.from)
	basis := basisLayUp
	if s.lastDone >= l.from {
		anchor, basis = s.lastDone, basisDone
	}
	if e.monthsAfter(anchor, int32(it.Every.Months)) > l.to {
		return
	}
	s.basis = basis
	e.limits(it, s, anchor, at, it.Every.Months, 0)
}

// startedBy lets events start the item: of those it was not done after, the one
// whose time runs out first. When the item's own interval runs out earlier that
// stays in force; the round keeps its name either way, so that nobody is told
// twice.
func (e *evaluation) startedBy(it *planned, s *Status, last day) {
	for n := range it.starts {
		start := &it.starts[n]
		for i := range e.events {
			if ev := &e.events[i]; ev.kind == start.kind && e.outstanding(start, ev, last, i) {
				e.start(start, ev, s)
				break // later ones of this kind run out later
			}
		}
	}
}

// outstanding says whether an event still asks for the work.
func (e *evaluation) outstanding(start *plannedStart, ev *started, last day, place int) bool {
	answered := last >= ev.day-day(start.lead)
	if ev.kind == Recommission && answered && last < ev.day {
		answered = e.standsSince(place) <= last
	}
	if start.notBefore > 0 {
		answered = last > ev.day // what was done at the event is not the work after it
	}
	if answered {
		return false
	}
	// Putting away and bringing back end each other: nobody puts away what is
	// back already.
	other := LayUpBegins
	switch ev.kind {
	case LayUpBegins:
		other = Recommission
		if ev.event < 0 && ev.day < e.on {
			return false // it stands already, and what was missed is made good when it comes back
		}
	case Recommission:
	default:
		return true
	}
	for _, later := range e.events[place+1:] {
		if (later.kind == other || later.kind == ev.kind) && later.day > ev.day && later.day <= e.on {
			return false
		}
	}
	return true
}

// standsSince gives the day on which the lay-up began that the event at a place
// ends; that of the event where none is recorded.
func (e *evaluation) standsSince(place int) day {
	for i := place - 1; i >= 0; i-- {
		switch e.events[i].kind {
		case LayUpBegins:
			return e.events[i].day
		case Recommission:
			return e.events[place].day
		}
	}
	return e.events[place].day
}

// start works out the dates of an event's demand and takes them when they come
// before what is in force.
func (e *evaluation) start(start *plannedStart, ev *started, s *Status) {
	mark := -1
	if ev.event >= 0 {
		mark = e.vehicle.Events[ev.event].Mark
	}
	at := e.distanceAt(mark, ev.day)
	demand := *s
	demand.basis, demand.Event, demand.event, demand.Bedding, demand.Severe = basisEvent, ev.kind, ev.event, false, false
	demand.anchor, demand.anchorAt, demand.months = ev.day, at, 0
	demand.timeDue, demand.distDue, demand.limit, demand.dueAt, demand.notBy, demand.kept = noDay, noDay, 0, 0, noDay, noDay
	if start.withinDays > 0 || start.withinDistance == 0 {
		demand.timeDue = ev.day + day(start.withinDays)
	}
	if start.withinDistance > 0 {
		demand.limit, demand.dueAt = start.withinDistance, at+start.withinDistance
		demand.distDue = max(ev.day, e.when(demand.dueAt))
	}
	if start.notBefore > 0 {
		demand.notBy = max(ev.day, e.when(at+start.notBefore))
	}
	e.decide(&demand)
	switch {
	case s.anchor == noDay:
		demand.cycle = ev.day
	case demand.due >= s.due:
		return
	}
	*s = demand
}
