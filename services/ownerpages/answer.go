package ownerpages

import (
	"net/http"
	"slices"
	"strings"

	"github.com/google/uuid"
	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/vehicle"
)

// round is one piece of work that an answer may be about.
type round struct {
	Cycle, Item string
	Label       string // what is done, and by when
	safety      bool
}

// mostRounds is how many rounds one answer may name.
const mostRounds = 40

// began is the day that the round is counted from, which ends its name; zero
// for none.
func (r round) began() vehicle.Date {
	_, on, _ := strings.Cut(r.Cycle, ".")
	d, err := vehicle.ParseDate(on)
	if err != nil {
		return vehicle.Date{}
	}
	return d
}

// rounds gives the work that is open: of the notice that the link stands in, or
// without one all that is due or comes up soon. What went wrong has been said
// when ok is false.
func (v *visit) rounds() (all []round, s *schedulev1.Schedule, ok bool) {
	s, ok = v.schedule(schedulev1.ScheduleView_SCHEDULE_VIEW_FULL)
	if !ok {
		return nil, nil, false
	}
	return v.roundsOf(s), s, true
}

// served is the notice that the link stands in, as far as it tells of work that is
// due; nil for none. A handbook, a campaign and the year are about other things,
// and whoever comes from them may answer about all that is due.
func (v *visit) served() *reminderv1.Notice {
	switch v.notice.GetPurpose() {
	case ownerv1.Purpose_PURPOSE_UNSPECIFIED, ownerv1.Purpose_PURPOSE_SERVICE:
		return v.notice
	}
	return nil
}

// roundsOf gives the open work of a schedule.
func (v *visit) roundsOf(s *schedulev1.Schedule) (all []round) {
	told := map[string]bool{}
	for _, line := range v.served().GetLines() {
		told[line.GetCycle()] = true
	}
	for _, m := range s.GetItems() {
		open := m.GetState() == schedulev1.DueState_DUE_STATE_COMING || m.GetState() == schedulev1.DueState_DUE_STATE_DUE ||
			m.GetState() == schedulev1.DueState_DUE_STATE_OVERDUE
		if v.served() != nil {
			open = told[m.GetCycle()]
		} else if m.GetItem().GetOwnerCheck() {
			open = false // nobody is reminded of it
		}
		if !open || m.GetState() == schedulev1.DueState_DUE_STATE_NOTHING_TO_DO {
			continue
		}
		label := v.title(m.GetItemId(), m.GetTitle())
		if by := acted(m); !by.IsZero() {
			label = v.say("answer.work", "title", label, "date", v.habit.Date(by))
		}
		if len(all) == mostRounds {
			break
		}
		all = append(all, round{m.GetCycle(), m.GetItemId(), label, m.GetItem().GetItemClass() == schedulev1.ItemClass_ITEM_CLASS_SAFETY})
	}
	return all
}

// request is the request for a reading that a notice holds, which can be put
// off like work; nil for none, or when it is over.
func (v *visit) request(s *schedulev1.Schedule) []round {
	cycle := s.GetReadingRequest().GetCycle()
	told := slices.ContainsFunc(v.notice.GetLines(), func(l *reminderv1.NoticeLine) bool { return l.GetCycle() == cycle })
	if cycle == "" || !told {
		return nil
	}
	return []round{{Cycle: cycle, Item: "READ", Label: v.say("answer.reading")}}
}

// labels are the rounds in words.
func labels(all []round) []string {
	var said []string
	for _, r := range all {
		said = append(said, r.Label)
	}
	return said
}

// cycles are the rounds' names.
func cycles(all []round) []string {
	var names []string
	for _, r := range all {
		names = append(names, r.Cycle)
	}
	return names
}

// answers gives what was said of a kind and still holds, the latest first: by the
// people named, of whom "" is the works.
func (v *visit) answers(kind reminderv1.AnswerKind, by ...string) ([]*reminderv1.Answer, error) {
	var all []*reminderv1.Answer
	ask := &reminderv1.ListAnswersRequest{Parent: v.vehicle, PageSize: 500}
	for {
		page, err := v.Reminders.ListAnswers(v.owner(), ask)
		if err != nil {
			return nil, err
		}
		for _, a := range page.GetAnswers() {
			if slices.Contains(by, a.GetPerson()) && a.GetKind() == kind && a.GetWithdrawTime() == nil {
				all = append(all, a)
			}
		}
		ask = proto.CloneOf(ask)
		if ask.PageToken = page.GetNextPageToken(); ask.PageToken == "" {
			slices.Reverse(all)
			return all, nil
		}
	}
}

// standing is an answer that holds, with the form that takes it back.
type standing struct {
	Text string
	Undo undo
}

// mostStanding is how many answers a page shows; who gave more calls.
const mostStanding = 5

// standings shows what was answered and still matters: its day has not long
// gone by.
func (v *visit) standings(kind reminderv1.AnswerKind, key string) ([]standing, error) {
	all, err := v.answers(kind, v.person)
	if err != nil {
		return nil, err
	}
	var shown []standing
	for _, a := range all {
		on := dayIn(a.GetAnswerDate())
		if len(shown) == mostStanding || on.AddDays(takeBackDays).Before(v.today) {
			continue
		}
		shown = append(shown, standing{v.say(key+".standing", "date", v.habit.Date(on)), v.takeBack(a, key)})
	}
	return shown, nil
}

// takeBackDays is for how long after its day an answer can be taken back here.
const takeBackDays = 31

// takeBack is the form that takes an answer back.
func (v *visit) takeBack(a *reminderv1.Answer, key string) undo {
	return undo{Label: v.say(key + ".undo"), Fields: []labelled{{"do", "undo"}, {"answer", a.GetName()}, {"request", uuid.NewString()}}}
}

// create records an answer of this person about rounds. What went wrong has been
// said when it gives nil; wrong is the phrase for a field.
func (v *visit) create(about []round, answer *reminderv1.Answer, request string) (a *reminderv1.Answer, wrong string) {
	answer.Person, answer.Cycles, answer.Notice = v.person, cycles(about), v.served().GetName()
	a, err := v.Reminders.CreateAnswer(v.owner(), &reminderv1.CreateAnswerRequest{Parent: v.vehicle, Answer: answer, RequestId: request})
	if err == nil {
		return a, ""
	}
	switch wrong = wrongKey(err); {
	case wrong == "":
		v.failed(err)
	case wrong == "wrong.day-past" && answer.GetKind() == reminderv1.AnswerKind_ANSWER_KIND_DONE:
		wrong = "wrong.day-done"
	case wrong == "wrong.day-past":
		wrong = "wrong.day-future"
	case wrong != "wrong.long" && wrong != wrongSent: // a round that ended meanwhile
		v.nothingOpen()
		wrong = ""
	}
	return nil, wrong
}

// withdraw takes back an answer of this person and kind that the form names.
// also undoes what hangs on the answer; it may be nil.
func (v *visit) withdraw(kind reminderv1.AnswerKind, key string, also func(*reminderv1.Answer) error) {
	all, err := v.answers(kind, v.person)
	if err != nil {
		v.failed(err)
		return
	}
	at := slices.IndexFunc(all, func(a *reminderv1.Answer) bool { return a.GetName() == v.form.text("answer") })
	if at >= 0 {
		if also != nil {
			err = also(all[at])
		}
		if err == nil {
			_, err = v.Reminders.WithdrawAnswer(v.owner(), &reminderv1.WithdrawAnswerRequest{Name: all[at].GetName(), RequestId: v.form.request()})
		}
		if err != nil {
			v.failed(err)
			return
		}
	}
	// One that is taken back already is as it should be.
	v.result(v.say("undone.title"), message{
		Text:  []string{v.say(key + ".undone")},
		Press: append([]press{v.here("press.again")}, v.press(links.Schedule, "press.schedule")...),
	})
}

// nothingOpen says that there is no work to answer about.
func (v *visit) nothingOpen() {
	v.print(v.w, v.reader, http.StatusOK, "answer.nothing", &message{Press: v.press(links.Schedule, "press.schedule"), rooms: v.rooms()})
}
