package ownerpages

import (
	"net/http"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/links"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// answerForm is a page that asks when work is or was done.
type answerForm struct {
	Intro        string
	Work         []string
	Standing     []standing
	Day, Today   string
	Least, Most  string // bounds of the day; "" for none
	Workshop     string
	Offers       []choice // days to choose from
	Bound        string   // the works' bound, in words
	Wrong, Other string
	Request      string
}

// furthest is how many days ahead work can be booked, as
// ReminderService.CreateAnswer has it.
const furthest = 180

// quietAfter is for how many days after a booked day nobody is reminded, by
// the works' rule.
const quietAfter = 7

func (v *visit) showBooked() {
	v.askBooked(http.StatusOK, answerForm{Request: uuid.NewString()})
}

func (v *visit) askBooked(status int, f answerForm) {
	about, _, ok := v.rounds()
	if !ok {
		return
	}
	v.askBookedAbout(status, f, about)
}

func (v *visit) askBookedAbout(status int, f answerForm, about []round) {
	var err error
	if f.Standing, err = v.standings(reminderv1.AnswerKind_ANSWER_KIND_BOOKED, "booked"); err != nil {
		v.failed(err)
		return
	}
	if len(about) == 0 && len(f.Standing) == 0 {
		v.nothingOpen()
		return
	}
	f.Work, f.Least, f.Most = labels(about), v.today.String(), v.today.AddDays(furthest).String()
	f.Intro = v.say("booked.intro", "serial", v.target.Serial)
	v.ask(status, "booked.html", v.say("booked.title"), f)
}

// book records that a workshop has the vehicle on a day.
func (v *visit) book() {
	const kind = reminderv1.AnswerKind_ANSWER_KIND_BOOKED
	if v.form.text("do") == "undo" {
		v.withdraw(kind, "booked", nil)
		return
	}
	about, _, ok := v.rounds()
	if !ok {
		return
	}
	f := answerForm{Day: v.form.text("day"), Workshop: v.form.text("workshop"), Request: v.form.request()}
	on, err := vehicle.ParseDate(f.Day)
	wrong := ""
	switch {
	case len(about) == 0:
		v.nothingOpen()
		return
	case err != nil || on.Before(v.today) || on.After(v.today.AddDays(furthest)):
		wrong = "wrong.day-future"
	case fault.Longer(f.Workshop, maxName):
		wrong = "wrong.long"
	default:
		var a *reminderv1.Answer
		if a, wrong = v.create(about, &reminderv1.Answer{Kind: kind, AnswerDate: vehiclewire.DateProto(on), Workshop: f.Workshop}, f.Request); a != nil {
			v.thankForBooking(a, on, f.Workshop, about)
		}
	}
	if wrong != "" {
		f.Wrong, f.Request = v.say(wrong), again(wrong, f.Request)
		v.askBookedAbout(http.StatusUnprocessableEntity, f, about)
	}
}

// maxName is the longest name of a workshop or of an owner, in characters.
const maxName = 200

func (v *visit) thankForBooking(a *reminderv1.Answer, on vehicle.Date, workshop string, about []round) {
	said := v.say("booked.have", "date", v.habit.Date(on))
	if workshop != "" {
		said = v.say("booked.have-at", "date", v.habit.Date(on), "workshop", workshop)
	}
	back := v.takeBack(a, "booked")
	v.result(v.say("thanks.title"), message{
		Text: []string{said, v.say("booked.quiet", "date", v.habit.Date(on.AddDays(quietAfter)))},
		List: labels(about), Undo: &back, Press: v.press(links.Schedule, "press.schedule"),
	})
}
