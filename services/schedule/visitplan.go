package schedule

import (
	"math"
	"slices"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/schedule/visits"
	"halfshaft/services/vehicle"
)

// VisitPlan is how the work of the next time is grouped.
type VisitPlan struct {
	visits.Plan
	Rules  VisitRules
	End    vehicle.Date
	Tasks  []visits.Task // that Plan points at
	Status []*Status     // of each task, the present round's
	Closed []visits.Span // no visit on these days, with Season and lay-ups behind them
	Season bool          // whether months out of season are among them

	schedule *Schedule
}

// Judgements of planning (common practice, no source).
const (
	lateTimes    = 4       // a day late is held to cost so many times what a day early throws away
	lateMost     = 60      // days by which work may be put off at most
	eventLate    = 7       // days, for what an event started
	eventEarly   = 14      // days, for what one is about to start: putting a vehicle away
	shortestLife = 30      // days: the shortest interval that is reckoned with
	inSeason     = 1.0 / 3 // weight of a month from which it belongs to the season
	mostRounds   = 60      // of one item
)

// PlanVisits groups what falls due until an end into visits.
//
// Each round is wanted by the day to act on it. It may be brought forward by
// half its interval, so that two rounds of an item never meet, and put off by a
// tenth. Nothing is planned into a lay-up, declared or expected because there
// was one each winter, nor for a vehicle that is used in a season out of it,
// but for the month before, when it is brought back, and the month after.
func (s *Schedule) PlanVisits(rules VisitRules, end vehicle.Date) *VisitPlan {
	p := &VisitPlan{Rules: rules.Complete(), End: end, schedule: s}
	p.close()
	for i := range s.Statuses {
		st := &s.Statuses[i]
		it := &s.plan.items[st.Item]
		if st.Open() && !it.OwnerCheck && it.LayUp != OnlyInLayUp && st.actBy != noDay && st.actBy != endDay {
			p.rounds(it, st)
		}
	}
	p.Plan = visits.Make(visits.Problem{
		Tasks: p.Tasks, VisitCost: float64(p.Rules.VisitCost), Closed: p.Closed, Together: p.Rules.Together, Apart: p.Rules.Apart,
	})
	// A later round for which there is no day falls away: what is looked at every
	// month is not looked at while the vehicle rests.
	p.Undone = slices.DeleteFunc(p.Undone, func(i int) bool { return p.Tasks[i].Round > 0 })
	return p
}

// close finds the days on which there is no visit: lay-ups, and the months out
// of season of a vehicle that has one of its own.
func (p *VisitPlan) close() {
	s := p.schedule
	from, to := s.on, dayOf(p.End)+lateMost
	var closed []span
	for _, l := range s.travel.cal.LayUps {
		if day(l.To) >= from && day(l.From) <= to {
			closed = append(closed, span{max(day(l.From), from), day(l.To)})
		}
	}
	for _, c := range joined(append(closed, p.outOfSeason(from, to)...)) {
		p.Closed = append(p.Closed, visits.Span{From: int32(c.from), To: int32(c.to)})
	}
}

// outOfSeason gives the months from a day to another in which a vehicle with a
// season of its own is neither used, nor brought back, nor put away.
func (p *VisitPlan) outOfSeason(from, to day) []span {
	season := p.schedule.Pace.Season
	if season.Source != forecast.Declared && season.Source != forecast.Learned {
		return nil
	}
	var open [12]bool
	for m, w := range season.Weights {
		if w >= inSeason {
			open[m], open[(m+1)%12], open[(m+11)%12] = true, true, true
		}
	}
	var months []span
	for d := from; d <= to; {
		date := d.date()
		next := dayOf(vehicle.MustDate(date.Year, date.Month, 1).AddMonths(1))
		if !open[int(date.Month)-1] {
			p.Season = true
			months = append(months, span{d, next - 1})
		}
		if next <= d {
			break // the calendar ends
		}
		d = next
	}
	return months
}

// rounds adds the present round of an item and those that follow until the end.
func (p *VisitPlan) rounds(it *planned, st *Status) {
	s := p.schedule
	due, life := st.actBy, max(shortestLife, st.due-st.anchor)
	for round := range mostRounds {
		if due > dayOf(p.End) {
			return
		}
		t := visits.Task{ID: it.ID, Round: round, Due: int32(due), Interval: float64(life), Cost: float64(it.Cost)}
		if it.Cost == 0 {
			t.Cost = float64(p.Rules.ItemCost)
		}
		t.LateCost = lateTimes * t.Cost / t.Interval
		t.From, t.Latest = int32(due-life/2), int32(due+min(life/10, lateMost))
		if round == 0 && st.basis == basisEvent {
			// What an event is about to start may be done shortly before it.
			t.From, t.Latest = int32(min(max(st.anchor, st.notBy), due-eventEarly)), int32(due+eventLate)
			if st.notBy != noDay {
				t.From = int32(st.notBy)
				t.Latest = max(t.Latest, t.From) // its days may run out before it does any good
			}
		}
		p.admit(&t)
		if round > 0 { // closed times apart, two rounds never meet
			before := &p.Tasks[len(p.Tasks)-1]
			t.From = max(t.From, before.Latest+1)
			t.Latest = max(t.Latest, t.From)
		}
		p.Tasks, p.Status = append(p.Tasks, t), append(p.Status, st)
		next := s.next(it, max(due, p.soonest())) // what is late is not done for each time it was missed
		if next <= due {
			return
		}
		due, life = next, max(shortestLife, next-due)
	}
}

// admit lets a task be done today when it is late already, and on the days
// around a closed time into which it falls.
func (p *VisitPlan) admit(t *visits.Task) {
	today := int32(p.schedule.on)
	t.From = max(t.From, today)
	if t.Latest < today {
		t.Latest = today
	}
	if t.Due < today {
		t.Latest = int32(p.soonest()) + int32(min(lateMost, t.Interval/2))
	}
	for _, c := range p.Closed {
		if c.From > t.Due || t.Due > c.To {
			continue
		}
		before, after := c.From > today, c.To < forecast.Never-1
		if before {
			t.From = min(t.From, c.From-1)
		}
		// Not so far that it meets the round that follows, if there is a choice.
		if after && (!before || float64(c.To+1-t.Due) <= t.Interval/2) {
			t.Latest = max(t.Latest, c.To+1)
		}
	}
}

// soonest is the first day on which there can be a visit: today, unless the
// vehicle rests. It is today too for one that rests until further notice.
func (p *VisitPlan) soonest() day {
	today := p.schedule.on
	for _, c := range p.Closed {
		if day(c.From) <= today && today <= day(c.To) && c.To < forecast.Never-1 {
			return day(c.To) + 1
		}
	}
	return today
}

// next gives the due day of the round after one, were that done on a day: by
// the interval as it is, or as hard use shortens it on the days it is declared
// for.
func (s *Schedule) next(it *planned, due day) day {
	after := func(months int, way vehicle.Distance) day {
		next := endDay
		if months > 0 {
			next = s.monthsAfter(due, int32(months))
		}
		if way > 0 {
			next = min(next, day(s.travel.cal.After(int32(due), float64(way)/s.travel.usage.PerDay())))
		}
		return next
	}
	next := after(it.Every.Months, it.everyDistance)
	if s.hard && it.shortens {
		next = min(next, firstFrom(s.hardFor(it), after(it.shortMonths, it.shortDistance)))
	}
	if next == endDay {
		return noDay
	}
	return next
}

// Moved is how many days after its due date a task is done in a visit, and what
// part of its interval that throws away, 0 for one done late.
func Moved(t *visits.Task, on int32) (days int, lost float64) {
	days = int(on - t.Due)
	return days, math.Max(0, float64(-days)/t.Interval)
}
