package ownerpages

import (
	"html/template"
	"net/http"
	"slices"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// schedulePage is the page of the vehicle: which it is, what is due and why, and
// what comes. It is where every message leads, and the navigation leads back.
type schedulePage struct {
	Campaigns    []campaignView
	About        []labelled
	State, Next  string        // what is to be done, in a sentence; what comes where it is nothing
	Plan         template.HTML // the months to come as a figure
	Facts        []string      // the last reading, a lay-up, what waits for a person
	Sample       bool
	Promised     []promise
	Now, Soon    []dueGroup
	Later        []itemView
	Much         string // how much of it there is
	Visits       []visitView
	Press, Small []press
}

// dueGroup is work that is due by the same: it is said once, as in the mails.
type dueGroup struct {
	When  string // "" where it stands with its one item
	Late  bool
	Items []itemView
}

// groups puts the items together that are due by the same. The order stays that
// of the first of each.
func groups(items []itemView) []dueGroup {
	var all []dueGroup
	for _, item := range items {
		at := slices.IndexFunc(all, func(g dueGroup) bool { return g.When == item.When })
		if at < 0 {
			at, all = len(all), append(all, dueGroup{When: item.When, Late: item.Late})
		}
		all[at].Items = append(all[at].Items, item)
	}
	for i, g := range all {
		if len(g.Items) == 1 {
			all[i].When = ""
			continue
		}
		for j := range g.Items {
			g.Items[j].When = ""
		}
	}
	return all
}

// itemView is one item in finished sentences; an empty one is left out.
type itemView struct {
	Title, When, Why, Purpose, Since string
	Late                             bool
	Caution                          string // the word before each of them
	Cautions                         []string
}

// visitView is one visit that is planned.
type visitView struct {
	When, Count string
	Tasks       []string
	Open        bool // the first one; later ones are opened by a press
}

// soonDays is how far ahead an item is told of in full; later ones are opened
// by a press.
const soonDays = 90

// planMonths is how far ahead visits are shown.
const planMonths = 24

func (v *visit) showSchedule() {
	s, ok := v.schedule(schedulev1.ScheduleView_SCHEDULE_VIEW_FULL)
	if !ok {
		return
	}
	before, err := v.readings()
	if err != nil {
		v.failed(err)
		return
	}
	promised, rounds, err := v.promised(s)
	if err != nil {
		v.failed(err)
		return
	}
	plan, err := v.Schedules.GetVisitPlan(v.owner(), &schedulev1.GetVisitPlanRequest{
		Name: v.vehicle + "/visitPlan", OnDate: vehiclewire.DateProto(v.today), Months: planMonths,
	})
	if err != nil {
		v.failed(err)
		return
	}
	page := schedulePage{Facts: v.facts(s, counted(before)), Sample: s.GetSample(), Promised: promised, Plan: v.planFigure(plan, s)}
	if page.About, err = v.about(s); err == nil {
		page.Campaigns, err = v.campaigns()
	}
	if err != nil {
		v.failed(err)
		return
	}
	due := v.sort(s)
	page.State, page.Next = v.state(&page, due)
	page.Now, page.Soon, page.Later = groups(due.now), groups(due.soon), due.later
	page.Much = v.count("schedule.tasks", len(due.later))
	for _, planned := range plan.GetVisits() {
		view := visitView{
			When: v.habit.Date(dayIn(planned.GetVisitDate())), Count: v.count("schedule.tasks", len(planned.GetTasks())), Open: len(page.Visits) == 0,
		}
		for _, task := range planned.GetTasks() {
			view.Tasks = append(view.Tasks, v.title(task.GetItemId(), task.GetTitle()))
		}
		page.Visits = append(page.Visits, view)
	}
	page.Press, page.Small = v.presses(v.roundsOf(s), rounds)
	v.ask(http.StatusOK, "schedule.html", v.heading(s), page)
}

// state says in a sentence how much is to be done, beside what campaigns ask for,
// and what comes next where it is nothing.
func (v *visit) state(page *schedulePage, due sorted) (state, next string) {
	if n := len(due.now); n > 0 {
		return v.count("schedule.to-do", n), ""
	}
	for _, coming := range [][]itemView{due.soon, due.later} {
		if len(coming) > 0 && next == "" {
			next = v.say("schedule.next", "title", coming[0].Title, "when", coming[0].When)
		}
	}
	if len(page.Campaigns) > 0 {
		return v.say("schedule.nothing-else"), next
	}
	return v.say("schedule.nothing-now"), next
}

// sorted is the work by when it is due.
type sorted struct{ now, soon, later []itemView }

// sort puts the items where they belong by when they are due.
func (v *visit) sort(s *schedulev1.Schedule) (due sorted) {
	for _, m := range s.GetItems() {
		if m.GetItem().GetOwnerCheck() {
			continue // it stands in the handbook
		}
		switch m.GetState() {
		case schedulev1.DueState_DUE_STATE_DUE, schedulev1.DueState_DUE_STATE_OVERDUE:
			due.now = append(due.now, v.itemView(m, s.GetPace()))
		case schedulev1.DueState_DUE_STATE_COMING, schedulev1.DueState_DUE_STATE_NOT_YET:
			if by := acted(m); !by.IsZero() && v.today.DaysUntil(by) <= soonDays {
				due.soon = append(due.soon, v.itemView(m, s.GetPace()))
			} else {
				due.later = append(due.later, v.itemView(m, s.GetPace()))
			}
		}
	}
	return due
}

// presses are the other pages. What is booked is not asked about again, and what
// is put off is not put off again before it is taken back.
func (v *visit) presses(about []round, rounds map[links.Purpose][]string) (main, small []press) {
	main = v.press(links.Odometer, "press.odometer")
	booked := rounds[links.Booked]
	if left(about, booked) {
		main = append(main, v.press(links.Booked, "press.booked")...)
	}
	if len(about) > 0 {
		main = append(main, v.press(links.Done, "press.done")...)
	}
	if left(about, slices.Concat(booked, rounds[links.Snooze])) {
		main = append(main, v.press(links.Snooze, "press.snooze")...)
	}
	return main, slices.Concat(v.press(links.Calendar, "press.calendar"), v.press(links.Unsubscribe, "press.stop"))
}

// facts are what the dates rest on.
func (v *visit) facts(s *schedulev1.Schedule, before []looked) []string {
	said := []string{v.say("odometer.none")}
	if len(before) > 0 {
		last := before[len(before)-1]
		said[0] = v.say("odometer.last", "value", v.habit.Entered(last.value), "date", v.habit.Date(last.on))
	}
	if n := int(s.GetDoubtfulReadings()); n > 0 {
		said = append(said, v.count("schedule.doubtful", n))
	}
	if l := s.GetLayUp(); l != nil {
		key := "schedule.lay-up"
		if l.GetEndDate() == nil {
			key = "schedule.lay-up-open"
		}
		said = append(said, v.say(key, "from", v.habit.Date(dayIn(l.GetStartDate())), "to", v.habit.Date(dayIn(l.GetEndDate()))))
	}
	return said
}

// itemView puts one item into sentences.
func (v *visit) itemView(m *schedulev1.ItemStatus, pace *schedulev1.Pace) itemView {
	id, item := m.GetItemId(), m.GetItem()
	by := dayIn(m.GetActByDate())
	view := itemView{Title: v.title(id, m.GetTitle()), Why: v.why(m), Purpose: v.item(id, "why", item.GetWhy()), Caution: v.say("schedule.caution")}
	switch {
	case by.IsZero():
		view.When = v.say("schedule.no-day")
	case m.GetState() == schedulev1.DueState_DUE_STATE_OVERDUE:
		view.When, view.Late = v.say("schedule.overdue", "date", v.habit.Date(by)), true
	case by.Before(v.today):
		view.When = v.say("schedule.was-due", "date", v.habit.Date(by))
	default:
		view.When = v.say("schedule.due", "date", v.habit.Date(by))
		if left := v.nearest(m, pace); left != "" {
			view.When = v.say("schedule.due-distance", "date", v.habit.Date(by), "left", left)
		}
	}
	if no := dayIn(m.GetNotBeforeDate()); no.After(v.today) {
		view.When += " " + v.say("schedule.not-before", "date", v.habit.Date(no))
	}
	if done := dayIn(m.GetLastDoneDate()); !done.IsZero() && !slices.ContainsFunc(m.GetReasons(), saysLastDone) {
		driven := v.roughly(lengthIn(m.GetDistanceSince()), vehicle.Unit(pace.GetUnit()))
		view.Since = v.say("schedule.last-done", "date", v.habit.Date(done), "way", driven)
	}
	if text := item.GetCaution(); text != "" {
		view.Cautions = append(view.Cautions, v.item(id, "caution", text))
	}
	if mix := strings.TrimSuffix(item.GetFluid().GetNeverMix(), "."); mix != "" {
		view.Cautions = append(view.Cautions, v.say("schedule.never-mix", "fluid", v.item(id, "fluid.never_mix", mix)))
	}
	return view
}

// saysLastDone says whether the reason why an item is due tells already when it
// was last done.
func saysLastDone(r *vehiclev1.Reason) bool { return r.GetRule() == "LAST_DONE" }

// acted is the day to act on a message's item, zero for none.
func acted(m *schedulev1.ItemStatus) vehicle.Date { return dayIn(m.GetActByDate()) }
