package ownerpages

import (
	"net/http"
	"slices"
	"strconv"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// The works' bounds on putting work off, in days: they are those of
// ReminderService.CreateAnswer, which has the last word.
const (
	longest       = 180
	longestSafety = 30
)

// offered are the days from today that are offered.
var offered = []int{7, 14, 30, 90}

func (v *visit) showSnooze() {
	about, s, ok := v.rounds()
	if ok {
		about = append(about, v.request(s)...)
		v.askSnooze(http.StatusOK, answerForm{Request: uuid.NewString()}, about, s)
	}
}

// bound is the last day to which work is put off, and whether that is so for
// safety's sake.
func (v *visit) bound(about []round) (most vehicle.Date, safety bool) {
	safety = slices.ContainsFunc(about, func(r round) bool { return r.safety })
	if safety {
		return v.today.AddDays(longestSafety), true
	}
	return v.today.AddDays(longest), false
}

func (v *visit) askSnooze(status int, f answerForm, about []round, s *schedulev1.Schedule) {
	var err error
	if f.Standing, err = v.standings(reminderv1.AnswerKind_ANSWER_KIND_SNOOZED, "snooze"); err != nil {
		v.failed(err)
		return
	}
	if len(about) == 0 && len(f.Standing) == 0 {
		v.nothingOpen()
		return
	}
	most, safety := v.bound(about)
	f.Work, f.Offers = labels(about), v.offers(f.Day, most, s)
	f.Least, f.Most = v.today.AddDays(1).String(), most.String()
	key, days := "snooze.bound", longest
	if safety {
		key, days = "snooze.bound-safety", longestSafety
	}
	f.Bound = v.say(key, "n", strconv.Itoa(days), "date", v.habit.Date(most))
	f.Intro = v.say("snooze.intro", "serial", v.target.Serial)
	v.ask(status, "snooze.html", v.say("snooze.title"), f)
}

// offers are a few days to choose from: some weeks ahead, and the day after the
// lay-up, where one is declared that ends within the bound.
func (v *visit) offers(chosen string, most vehicle.Date, s *schedulev1.Schedule) []choice {
	var all []choice
	add := func(on vehicle.Date, label string) {
		if on.After(v.today) && !on.After(most) {
			all = append(all, choice{on.String(), label, on.String() == chosen})
		}
	}
	for _, n := range offered {
		on := v.today.AddDays(n)
		add(on, v.words.Count("snooze.offer", int64(n), map[string]string{"n": strconv.Itoa(n), "date": v.habit.Date(on)}))
	}
	if end := dayIn(s.GetLayUp().GetEndDate()); !end.IsZero() {
		on := end.AddDays(1)
		add(on, v.say("snooze.after-lay-up", "date", v.habit.Date(on)))
	}
	return all
}

// snooze puts work off to a day.
func (v *visit) snooze() {
	const kind = reminderv1.AnswerKind_ANSWER_KIND_SNOOZED
	if v.form.text("do") == "undo" {
		v.withdraw(kind, "snooze", nil)
		return
	}
	about, s, ok := v.rounds()
	if !ok {
		return
	}
	if about = append(about, v.request(s)...); len(about) == 0 {
		v.nothingOpen()
		return
	}
	f := answerForm{Day: v.form.text("day"), Other: v.form.text("other"), Request: v.form.request()}
	most, _ := v.bound(about)
	on, err := vehicle.ParseDate(f.day())
	wrong := "snooze.wrong"
	if f.Other != "" && f.day() != f.Other {
		wrong = "snooze.both"
	} else if err == nil && on.After(v.today) && !on.After(most) {
		var a *reminderv1.Answer
		if a, wrong = v.create(about, &reminderv1.Answer{Kind: kind, AnswerDate: vehiclewire.DateProto(on)}, f.Request); a != nil {
			back := v.takeBack(a, "snooze")
			v.result(v.say("thanks.title"), message{
				Text: []string{v.say("snooze.have", "date", v.habit.Date(on))}, List: labels(about), Undo: &back,
				Press: v.press(links.Schedule, "press.schedule"),
			})
		}
	}
	if wrong != "" {
		f.Wrong, f.Request = v.say(wrong, "date", v.habit.Date(most)), again(wrong, f.Request)
		v.askSnooze(http.StatusUnprocessableEntity, f, about, s)
	}
}

// day is the day that was chosen or typed.
func (f answerForm) day() string {
	if f.Day == "other" || f.Day == "" {
		return f.Other
	}
	return f.Day
}
