package warranty

import (
	"slices"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// DaysAt gives the day of a moment in the works' zone and in the owner's. A
// works without a zone keeps UTC, an owner without one keeps the works'.
func DaysAt(t time.Time, works, owners *time.Location) (atWorks, atOwners vehicle.Date) {
	if works == nil {
		works = time.UTC
	}
	if owners == nil {
		owners = works
	}
	return vehicle.DateOf(t.In(works)), vehicle.DateOf(t.In(owners))
}

// days are the days that a moment may be taken for under a clock, the earlier
// first; both are the same where only a day is known.
type days struct{ early, late vehicle.Date }

// under gives the days that count under a term's clock.
func (q *Question) under(m Midnight) days {
	if q.At.IsZero() {
		return days{q.On, q.On}
	}
	works, owners := DaysAt(q.At, q.WorksZone, q.OwnerZone)
	switch {
	case m == WorksMidnight:
		return days{works, works}
	case m == OwnerMidnight:
		return days{owners, owners}
	case owners.Before(works):
		return days{owners, works}
	}
	return days{works, owners}
}

// lastDay is the last day of a number of months that began on a day: the day of
// the same number, or the month's last where it has none. The day of the event
// itself is covered beside them.
func lastDay(first vehicle.Date, months int) vehicle.Date { return first.AddMonths(months) }

// extended moves the last day of a term by the days out of service within it.
// Days that lie in what was added count as well: the clock of the term stands
// still on them. The spans are merged.
func extended(first, last vehicle.Date, spans []Span) (vehicle.Date, int) {
	added := 0
	for {
		end := last.AddDays(added)
		n := 0
		for _, s := range spans {
			n += overlap(s, first, end)
		}
		if n == added {
			return end, added
		}
		added = n // it only grows, and there are no more days than in all spans
	}
}

// overlap is the number of days of a span from one day to another, both
// inclusive.
func overlap(s Span, first, last vehicle.Date) int {
	if first.After(s.Start) {
		s.Start = first
	}
	if last.Before(s.End) {
		s.End = last
	}
	return max(0, s.Start.DaysUntil(s.End)+1)
}

// Merge gives the spans that count without overlaps, in order; those that touch
// become one. One that lasts goes up to and including the day until, and is left out
// where it begins after that.
func Merge(spans []Span, until vehicle.Date) []Span {
	var all []Span
	for _, s := range spans {
		if s.End.IsZero() {
			s.End = until
		}
		if s.Counts && !s.Start.IsZero() && !s.End.Before(s.Start) {
			all = append(all, s)
		}
	}
	slices.SortFunc(all, func(a, b Span) int { return a.Start.Compare(b.Start) })
	var merged []Span
	for _, s := range all {
		n := len(merged)
		if n == 0 || s.Start.After(merged[n-1].End.AddDays(1)) {
			merged = append(merged, s)
		} else if s.End.After(merged[n-1].End) {
			merged[n-1].End = s.End
		}
	}
	return merged
}

// Faults says what is wrong with a time out of service, in the names of the API.
func (s Span) Faults() []fault.Field {
	var out []fault.Field
	if !s.Start.Valid() {
		out = append(out, fault.Field{Name: "start_date", Got: s.Start.String(), Want: "the first day out of service"})
	}
	if !s.End.IsZero() && (!s.End.Valid() || s.End.Before(s.Start)) {
		out = append(out, fault.Field{Name: "end_date", Got: s.End.String(), Want: "the last day out of service, " + s.Start.String() + " or later, or nothing while it lasts"})
	}
	return out
}
