package schedulerpc

import (
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/access"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// discreetSchedule gives a schedule as the caller may read it. What a dealer is
// told rests on the same lay-ups and seasons, and its days are the same; but it
// does not say when the vehicle stands still, for then, or there, the owner is
// often away. A limited caller gets a copy, for what is given may be shared.
func discreetSchedule(caller access.Caller, m *schedulev1.Schedule) *schedulev1.Schedule {
	if !caller.Role.Limited() {
		return m
	}
	m = proto.CloneOf(m)
	if caller.Role != access.Dealer {
		return m
	}
	m.LayUp, m.ReadingRequest = nil, nil
	on, err := vehiclewire.Date(m.GetOnDate())
	m.Items = slices.DeleteFunc(m.Items, func(item *schedulev1.ItemStatus) bool { return err != nil || ofLayUp(item, on) })
	seasonless(m.GetPace().GetEvidence())
	for _, item := range m.GetItems() {
		for _, r := range item.GetReasons() {
			if r.GetRule() == schedule.RuleMovedByLayUp {
				was := r.GetSentence()
				movedAlone(r, item)
				item.Sentence = strings.Replace(item.Sentence, wording.LowerFirst(was), wording.LowerFirst(r.GetSentence()), 1)
			}
			seasonless(r)
		}
	}
	return m
}

// ofLayUp reports whether an item is for a lay-up: work while it lasts, work that
// puts the vehicle away, or work for a return that does not lie behind. Whether
// there is a lay-up does not matter, so that the item's absence says nothing.
func ofLayUp(item *schedulev1.ItemStatus, on vehicle.Date) bool {
	programmed := item.GetItem()
	if programmed.GetLayUp() == schedulev1.LayUpRule_LAY_UP_RULE_ONLY {
		return true
	}
	alone := len(programmed.GetStartsOn()) > 0 && programmed.GetEvery() == nil
	for _, s := range programmed.GetStartsOn() {
		alone = alone && (s.GetEvent() == schedulev1.EventKind_EVENT_KIND_LAY_UP || s.GetEvent() == schedulev1.EventKind_EVENT_KIND_RECOMMISSION)
	}
	for _, r := range item.GetReasons() {
		if r.GetRule() != schedule.RuleStartedByEvent {
			continue
		}
		switch factOf(r, "event") {
		case schedule.LayUpBegins.Words():
			return true
		case schedule.Recommission.Words():
			began, err := vehicle.ParseDate(factOf(r, "date"))
			return err != nil || began.After(on)
		}
	}
	return alone
}

// movedAlone says on which day moved work is to be done, and not why.
func movedAlone(r *vehiclev1.Reason, item *schedulev1.ItemStatus) {
	r.Rule = "ACT_BY"
	r.Facts = slices.DeleteFunc(r.Facts, func(f *vehiclev1.Fact) bool { return f.GetName() != "act_by" })
	r.Sentence = "There is no day to do it on yet."
	if on, err := vehiclewire.Date(item.GetActByDate()); err == nil && factOf(r, "act_by") != "" {
		r.Sentence = "The day to do it by is " + on.Long() + "."
	}
}

// seasonless takes out of a reason in which months of the year a vehicle is used.
func seasonless(r *vehiclev1.Reason) {
	words := forecast.SeasonWords(factOf(r, "season"), factOf(r, "season_from"))
	if words == "" {
		return
	}
	r.Sentence = strings.Replace(r.Sentence, words, "", 1)
	r.Facts = slices.DeleteFunc(r.Facts, func(f *vehiclev1.Fact) bool {
		return f.GetName() == "season" || f.GetName() == "season_from"
	})
}

// discreetPlan gives a plan of visits as the caller may read it, likewise.
func discreetPlan(caller access.Caller, m *schedulev1.VisitPlan) {
	if caller.Role != access.Dealer {
		return
	}
	m.Reasons = nil // lay-ups and seasons, and nothing else
	for _, v := range m.GetVisits() {
		if v.GetReason().GetRule() == schedule.RuleBesideClosedTime {
			v.Reason.Rule = schedule.RuleLeastCost
			v.Reason.Sentence, _, _ = strings.Cut(v.Reason.GetSentence(), ". ")
			v.Reason.Sentence = strings.TrimSuffix(v.Reason.Sentence, ".") + "."
		}
		for _, t := range v.GetTasks() {
			if t.GetReason().GetRule() == schedule.RulePutOffToReturn {
				was := t.Reason.GetSentence()
				t.Reason.Rule = schedule.RulePutOff
				t.Reason.Sentence = strings.Replace(was, schedule.WhenBack, "there is no earlier day for it", 1)
				t.Sentence = strings.Replace(t.Sentence, was, t.Reason.Sentence, 1)
			}
		}
	}
}

// factOf gives the value of a fact, empty for none.
func factOf(r *vehiclev1.Reason, name string) string {
	for _, f := range r.GetFacts() {
		if f.GetName() == name {
			return f.GetValue()
		}
	}
	return ""
}
