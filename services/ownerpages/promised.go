package ownerpages

import (
	"slices"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/vehicle"
)

// promise is what somebody told of open work that nobody is reminded of for it.
type promise struct {
	Text string
	Work []string
	Undo *undo // nil for what the works recorded
}

// promised gives what this person told, or the works recorded, of work that is
// still open: that it is booked, and that it is put off; and the rounds of each
// kind.
func (v *visit) promised(s *schedulev1.Schedule) (all []promise, rounds map[links.Purpose][]string, err error) {
	rounds = map[links.Purpose][]string{}
	for _, kind := range []struct {
		is     reminderv1.AnswerKind
		page   links.Purpose
		key    string
		beyond int // days after its day for which it holds
	}{
		{reminderv1.AnswerKind_ANSWER_KIND_BOOKED, links.Booked, "booked", quietAfter},
		{reminderv1.AnswerKind_ANSWER_KIND_SNOOZED, links.Snooze, "snooze", 0},
	} {
		answers, err := v.answers(kind.is, v.person, "")
		if err != nil {
			return nil, nil, err
		}
		for _, a := range answers {
			work := v.openWork(s, a)
			if on := dayIn(a.GetAnswerDate()); len(work) == 0 || !v.today.Before(on.AddDays(kind.beyond)) {
				continue
			}
			p := promise{Text: v.promise(a), Work: work}
			if to, ok := v.link.On(kind.page, v.Clock()); ok && a.GetPerson() == v.person {
				back := v.takeBack(a, kind.key)
				back.Path, p.Undo = v.pathOf(to), &back
			}
			all, rounds[kind.page] = append(all, p), append(rounds[kind.page], a.GetCycles()...)
		}
	}
	return all, rounds, nil
}

// promise says what an answer says.
func (v *visit) promise(a *reminderv1.Answer) string {
	on := v.habit.Date(dayIn(a.GetAnswerDate()))
	switch {
	case a.GetKind() == reminderv1.AnswerKind_ANSWER_KIND_SNOOZED:
		return v.say("schedule.put-off", "date", on)
	case a.GetWorkshop() != "":
		return v.say("schedule.booked-with", "date", on, "workshop", a.GetWorkshop())
	}
	return v.say("schedule.booked", "date", on)
}

// openWork is the work of an answer that is still to be done, in words.
func (v *visit) openWork(s *schedulev1.Schedule, a *reminderv1.Answer) []string {
	var work []string
	for _, m := range s.GetItems() {
		if slices.Contains(a.GetCycles(), m.GetCycle()) && m.GetState() != schedulev1.DueState_DUE_STATE_NOTHING_TO_DO {
			work = append(work, v.title(m.GetItemId(), m.GetTitle()))
		}
	}
	if cycle := s.GetReadingRequest().GetCycle(); cycle != "" && slices.Contains(a.GetCycles(), cycle) {
		work = append(work, v.say("answer.reading"))
	}
	return work
}

// left says whether there is work of which none of the rounds tells.
func left(about []round, rounds []string) bool {
	return slices.ContainsFunc(about, func(r round) bool { return !slices.Contains(rounds, r.Cycle) })
}

// nearest is how far the vehicle still goes before work is due by distance, in
// the reader's words; "" where it is due by a day alone, or by now.
func (v *visit) nearest(m *schedulev1.ItemStatus, pace *schedulev1.Pace) string {
	due, gone := lengthIn(m.GetDueDistance()), lengthIn(pace.GetEstimatedDistance())
	if due <= 0 || gone <= 0 || (due-gone).Whole(v.habit.Unit()) <= 0 {
		return ""
	}
	return v.roughly(due-gone, vehicle.Unit(pace.GetUnit()))
}
