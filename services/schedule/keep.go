package schedule

import "slices"

// keepCalendar lets an item that was done near its due date be due again when
// it would have been had it been done on the day, so that a yearly item keeps
// its season and does not creep through the year. Work that was further off
// begins a new calendar. The distance is always counted from the work itself,
// and what is counted from is the original date, so that the end of a month
// does not wear off (checks.md O-23).
//
// begin and first are where the first round began and its months; the latest
// work is already in s.
func (e *evaluation) keepCalendar(it *planned, s *Status, begin day, first int) {
	origin, months := begin, first
	// Work further off than half the interval belongs to another due date.
	keep := day(min(it.KeepCalendarDays, it.Every.Months*30/2))
	for _, d := range e.daysDone(it, s.fit, begin) {
		due := noDay
		if months > 0 {
			due = e.monthsAfter(origin, int32(months))
		}
		if due != noDay && max(d-due, due-d) <= keep {
			s.kept = due
		} else {
			origin, months, s.kept = d, 0, noDay
		}
		months += it.Every.Months
	}
	if s.kept == noDay {
		return
	}
	s.timeDue = e.monthsAfter(origin, int32(months))
	if s.kept == s.lastDone {
		s.kept = noDay
	}
	e.decide(s)
}

// daysDone gives the days on which an item was done to a unit, by itself or by
// another that resets it, from a day on and in order.
func (e *evaluation) daysDone(it *planned, fit *Fit, from day) []day {
	days := e.days[:0]
	if fit.arrival != nil {
		for i := range fit.arrival.earlier {
			if d := dayOf(fit.arrival.earlier[i].Date); d >= from {
				days = append(days, d)
			}
		}
	}
	for _, w := range e.works {
		if w.day >= from && w.day >= fit.came && slices.Contains(it.doneBy, int(w.item)) {
			days = append(days, w.day)
		}
	}
	e.days = days
	slices.Sort(days)
	return slices.Compact(days)
}
