package schedule

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/schedule/visits"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// Why says why a visit falls on its day.
func (p *VisitPlan) Why(v *visits.Visit) vehicle.Reason {
	on := vehicle.DateFromOrdinal(int(v.Day))
	r := vehicle.Reason{Facts: []vehicle.Fact{fact("visit_date", on.String()), fact("items", strconv.Itoa(len(v.Tasks)))}}
	var due, early, late, overdue int
	for _, i := range v.Tasks {
		switch days, _ := Moved(&p.Tasks[i], v.Day); {
		case p.Tasks[i].Due < int32(p.schedule.on):
			overdue++
		case days == 0:
			due++
		case days < 0:
			early++
		default:
			late++
		}
	}
	var parts []string
	count := func(n int, words string) {
		if n > 0 {
			parts = append(parts, strconv.Itoa(n)+" "+words)
		}
	}
	count(overdue, "overdue")
	count(due, "due that day")
	count(early, "brought forward")
	count(late, "put off")
	r.Facts = append(r.Facts, fact("due", strconv.Itoa(due)), fact("early", strconv.Itoa(early)), fact("late", strconv.Itoa(late)), fact("overdue", strconv.Itoa(overdue)))
	r.Rule = RuleLeastCost
	r.Sentence = wording.Count(len(v.Tasks), "item") + ": " + strings.Join(parts, ", ") + "."
	if why := p.edge(v.Day); why != "" {
		r.Rule = RuleBesideClosedTime
		r.Sentence += " " + why
	}
	return r
}

// edge says which side of a closed time a day is on, if any.
func (p *VisitPlan) edge(day int32) string {
	for _, c := range p.Closed {
		from, to := vehicle.DateFromOrdinal(int(c.From)), ""
		if c.To < forecast.Never-1 {
			to = vehicle.DateFromOrdinal(int(c.To)).Long()
		}
		switch {
		case day == c.From-1:
			return "The last day before the vehicle rests from " + from.Long() + "."
		case day == c.To+1:
			return "The first day after the vehicle has rested until " + to + "."
		}
	}
	return ""
}

// Moving says why a task is in a visit on a day, and what that takes of its
// interval.
func (p *VisitPlan) Moving(task int, on int32) vehicle.Reason {
	t := &p.Tasks[task]
	due := vehicle.DateFromOrdinal(int(t.Due))
	days, lost := Moved(t, on)
	r := vehicle.Reason{Facts: []vehicle.Fact{fact("due_date", due.String()), fact("moved_days", strconv.Itoa(days))}}
	title := p.schedule.plan.Item(int(p.Status[task].Item)).Title
	switch {
	case days == 0:
		r.Rule, r.Sentence = "VISIT_ON_DUE_DATE", title+", on the day it is due."
	case days < 0:
		r.Rule = "VISIT_BROUGHT_FORWARD"
		r.Facts = append(r.Facts, fact("given_away", percent(lost)))
		r.Sentence = fmt.Sprintf("%s, %s before it is due on %s; that gives away %s of its interval.",
			title, wording.Count(-days, "day"), due.Long(), percent(lost))
	case t.Due < int32(p.schedule.on):
		r.Rule, r.Sentence = "VISIT_OVERDUE", title+", which was due on "+due.Long()+"."
	default:
		r.Rule = RulePutOff
		why := "a risk that costs less than coming for it alone"
		if p.edge(on) != "" {
			r.Rule, why = RulePutOffToReturn, WhenBack
		}
		r.Sentence = fmt.Sprintf("%s, %s after it is due on %s; %s.", title, wording.Count(days, "day"), due.Long(), why)
	}
	return r
}

// NoDay says why a task is in no visit.
func (p *VisitPlan) NoDay(task int) vehicle.Reason {
	title := p.schedule.plan.Item(int(p.Status[task].Item)).Title
	return vehicle.Reason{
		Rule: "NO_VISIT_DAY", Facts: []vehicle.Fact{fact("due_date", vehicle.DateFromOrdinal(int(p.Tasks[task].Due)).String())},
		Sentence: title + ": there is no day on which the vehicle can be brought for it.",
	}
}

// percent is a part in words: "4 %", "less than 1 %".
func percent(part float64) string {
	if part < 0.005 {
		return "less than 1 %"
	}
	return strconv.Itoa(int(math.Round(100*part))) + " %"
}

// Reasons says which times of the year the plan keeps free.
func (p *VisitPlan) Reasons() []vehicle.Reason {
	var reasons []vehicle.Reason
	if p.Season {
		var months []string
		weights := &p.schedule.Pace.Season.Weights
		first := 0 // a season over the turn of the year begins in the autumn
		for weights[first] >= inSeason && weights[(first+11)%12] >= inSeason {
			first = (first + 11) % 12
		}
		for i := range 12 {
			if m := (first + i) % 12; weights[m] >= inSeason {
				months = append(months, time.Month(m+1).String())
			}
		}
		reasons = append(reasons, vehicle.Reason{
			Rule: "VISITS_IN_SEASON", Facts: []vehicle.Fact{fact("months", strings.Join(months, " "))},
			Sentence: "The vehicle is used in " + wording.List(months, "and") + ", so visits fall into those months, the month before and the month after.",
		})
	}
	for _, l := range p.schedule.travel.cal.LayUps {
		if day(l.To) < p.schedule.on || day(l.From) > dayOf(p.End) {
			continue
		}
		from := day(l.From).date()
		r := vehicle.Reason{Rule: "NO_VISIT_IN_LAY_UP", Facts: []vehicle.Fact{fact("lay_up_from", from.String())}}
		until := " until further notice"
		if l.To < forecast.Never-1 {
			to := day(l.To).date()
			r.Facts, until = append(r.Facts, fact("lay_up_to", to.String())), " until "+to.Long()
		}
		r.Sentence = "It is laid up, or is expected to be, from " + from.Long() + until + ": nothing is planned then."
		reasons = append(reasons, r)
	}
	return reasons
}
