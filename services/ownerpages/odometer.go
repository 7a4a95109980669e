package ownerpages

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"github.com/google/uuid"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// odometerForm is the page that asks for the odometer.
type odometerForm struct {
	dialForm
	Serial, Intro, Last string
	Units               []choice
	First, Today        string // bounds of the day
	Request             string
	Photograph          string   // name of the one that is kept already
	Said                []string // what became of the photograph
	Wrong               string
}

func (v *visit) showOdometer() {
	s, ok := v.schedule(schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC)
	if !ok {
		return
	}
	all, err := v.readings()
	if err != nil {
		v.failed(err)
		return
	}
	f := odometerForm{dialForm: dialForm{Unit: s.GetPace().GetUnit(), Date: v.today.String()}, Request: uuid.NewString()}
	v.askOdometer(http.StatusOK, f, s, counted(all))
}

// askOdometer prints the form with what the last reading was.
func (v *visit) askOdometer(status int, f odometerForm, s *schedulev1.Schedule, before []looked) {
	first, _ := v.firstDay(s)
	f.Serial, f.First, f.Today, f.Units = v.target.Serial, first.String(), v.today.String(), v.units(f.Unit)
	f.Intro, f.Last = v.say("odometer.intro", "serial", f.Serial), v.say("odometer.none")
	if len(before) > 0 {
		last := before[len(before)-1]
		f.Last = v.say("odometer.last", "value", v.habit.Entered(last.value), "date", v.habit.Date(last.on))
	}
	v.ask(status, "odometer.html", v.say("odometer.title"), f)
}

// due asks what is due on the reader's own day: what they did today counts on
// it, though it may be tomorrow in UTC.
func (v *visit) due(view schedulev1.ScheduleView) (*schedulev1.Schedule, error) {
	return v.Schedules.GetSchedule(v.owner(), &schedulev1.GetScheduleRequest{
		Name: v.vehicle + "/schedule", OnDate: vehiclewire.DateProto(v.today), View: view,
	})
}

// schedule asks what is due; what went wrong has been said when ok is false.
func (v *visit) schedule(view schedulev1.ScheduleView) (s *schedulev1.Schedule, ok bool) {
	s, err := v.due(view)
	if err != nil {
		v.failed(err)
		return nil, false
	}
	return s, true
}

// report records what the owner read off the odometer. The photograph goes
// first: a browser sends it only once, and the form may come back.
func (v *visit) report() {
	f := odometerForm{dialForm: dialOf(v.form), Request: v.form.request(), Photograph: v.ownDocument(v.form.text("photograph"))}
	name, said := v.keepPhoto()
	if name != "" {
		f.Photograph = name
	}
	if said != "" {
		f.Said = append(f.Said, v.say(said))
	}
	before, ok := v.schedule(schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC)
	if !ok {
		return
	}
	all, err := v.readings()
	if err != nil {
		v.failed(err)
		return
	}
	reading, wrong := v.readingOf(&f, before)
	if wrong == "" {
		if v.said(all, reading) {
			v.repeat(f, reading)
			return
		}
		if !v.confirmed(&f.dialForm, must(vehiclewire.Entered(reading.GetValue())), dayIn(reading.GetReadingDate()), counted(all), before) {
			v.askOdometer(http.StatusOK, f, before, counted(all))
			return
		}
		reading, err = v.record(reading, f.Request)
		if err == nil {
			v.thankForReading(f, reading, before)
			return
		}
		if wrong = wrongKey(err); wrong == "" {
			v.failed(err)
			return
		}
	}
	f.Wrong, f.Request = v.say(wrong, v.limits(before)...), again(wrong, f.Request)
	v.askOdometer(http.StatusUnprocessableEntity, f, before, counted(all))
}

func (v *visit) record(r *schedulev1.Reading, request string) (*schedulev1.Reading, error) {
	return v.Schedules.RecordReading(v.owner(), &schedulev1.RecordReadingRequest{Parent: v.vehicle, Reading: r, RequestId: request})
}

// said says whether this person told the same of the same day before, and nobody
// has decided about it: the service then puts what comes now to what there is.
func (v *visit) said(all []*schedulev1.Reading, r *schedulev1.Reading) bool {
	return slices.ContainsFunc(all, func(before *schedulev1.Reading) bool {
		return before.GetStatedBy() == v.person && before.GetSettlement() == nil && before.GetNote() == "" &&
			dayIn(before.GetReadingDate()) == dayIn(r.GetReadingDate()) &&
			must(vehiclewire.Entered(before.GetValue())) == must(vehiclewire.Entered(r.GetValue()))
	})
}

// repeat answers a reading that was sent before, and puts a photograph to it
// where one comes now.
func (v *visit) repeat(f odometerForm, r *schedulev1.Reading) {
	r, err := v.record(r, second(f.Request, "again "+f.Photograph))
	if err != nil {
		v.failed(err)
		return
	}
	m := message{Text: []string{v.have(r), v.say("odometer.had")}}
	if r.GetState() != schedulev1.ReadingState_READING_STATE_COUNTED {
		m.Text = append(m.Text, v.say("odometer.doubtful"))
	}
	v.afterReading(f, m, "odometer.had-title")
}

// must gives a value that was made from the same message before.
func must[T any](value T, _ error) T { return value }

// readingOf reads the form, or gives the phrase that says what is wrong.
func (v *visit) readingOf(f *odometerForm, s *schedulev1.Schedule) (*schedulev1.Reading, string) {
	value, wrong := v.entered(&f.dialForm)
	if wrong != "" {
		return nil, wrong
	}
	on, wrong := v.day(f.Date)
	if wrong != "" {
		return nil, wrong
	}
	if first, wrong := v.firstDay(s); on.Before(first) {
		return nil, wrong
	}
	return &schedulev1.Reading{
		ReadingDate: vehiclewire.DateProto(on), Value: vehiclewire.EnteredProto(value),
		Source: schedulev1.ReadingSource_READING_SOURCE_OWNER, Photograph: f.Photograph,
	}, ""
}

// wrongSent says that a form was sent before with something else in it: somebody
// went back in their browser and changed it.
const wrongSent = "wrong.sent"

// again is the identifier of a form that is shown again: another one when it
// was sent already.
func again(wrong, request string) string {
	if wrong == wrongSent {
		return uuid.NewString()
	}
	return request
}

// wrongKey is the phrase for a field that a service refused; "" for another
// refusal.
func wrongKey(err error) string {
	f := rpcerr.FromStatus(err)
	if f.Reason == "REQUEST_ID_REUSED" {
		return wrongSent
	}
	fields := f.Fields
	for _, field := range fields {
		for _, known := range []struct{ part, key string }{
			{"date", "wrong.day-past"}, {"note", "wrong.long"}, {"workshop", "wrong.long"}, {"done_by", "wrong.long"},
		} {
			if strings.Contains(field.Name, known.part) {
				return known.key
			}
		}
	}
	if len(fields) > 0 {
		return "wrong.figures"
	}
	return ""
}

// have says which reading is here.
func (v *visit) have(r *schedulev1.Reading) string {
	said := v.figures(must(vehiclewire.Entered(r.GetValue())))
	return v.say("odometer.have", "value", said, "serial", v.target.Serial, "date", v.habit.Date(dayIn(r.GetReadingDate())))
}

// thankForReading says what became of the reading and what it changed.
func (v *visit) thankForReading(f odometerForm, r *schedulev1.Reading, before *schedulev1.Schedule) {
	m := message{Text: []string{v.have(r)}}
	if r.GetState() == schedulev1.ReadingState_READING_STATE_COUNTED {
		m.List = v.changes(before)
		key := "odometer.unchanged"
		if len(m.List) > 0 {
			key = "odometer.changed"
		}
		m.Text = append(m.Text, v.say(key))
	} else {
		m.Text = append(m.Text, v.say("odometer.doubtful"))
	}
	v.afterReading(f, m, "thanks.title")
}

// afterReading says what became of the photograph and where to go on.
func (v *visit) afterReading(f odometerForm, m message, title string) {
	if f.Photograph != "" {
		m.After = append(m.After, v.say("photograph.kept"))
	}
	m.After = append(append(m.After, f.Said...), v.say("odometer.slip"))
	m.Press = append([]press{v.here("press.correct")}, v.press(links.Schedule, "press.schedule")...)
	v.result(v.say(title), m)
}

// mostChanges is how many changed days a page tells of.
const mostChanges = 4

// changes says which days are others than they were before, the nearest first.
// That they cannot be told of is no reason to say that the reading failed.
func (v *visit) changes(before *schedulev1.Schedule) []string {
	after, err := v.due(schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC)
	if err != nil {
		return nil
	}
	was := map[string]vehicle.Date{}
	for _, item := range before.GetItems() {
		was[item.GetCycle()] = dayIn(item.GetActByDate())
	}
	items := slices.Clone(after.GetItems())
	slices.SortStableFunc(items, func(a, b *schedulev1.ItemStatus) int {
		return cmp.Or(dayIn(a.GetActByDate()).Compare(dayIn(b.GetActByDate())), strings.Compare(a.GetItemId(), b.GetItemId()))
	})
	var said []string
	for _, item := range items {
		then, now := was[item.GetCycle()], dayIn(item.GetActByDate())
		if then.IsZero() || now.IsZero() || then == now || len(said) == mostChanges {
			continue
		}
		said = append(said, v.say("odometer.now-due", "title", v.title(item.GetItemId(), item.GetTitle()), "date", v.habit.Date(now), "was", v.habit.Date(then)))
	}
	return said
}
