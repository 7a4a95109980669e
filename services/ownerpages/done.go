package ownerpages

import (
	"net/http"
	"slices"
	"strings"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/vehicle/vehiclewire"
)

// doneForm is the page that asks what was done.
type doneForm struct {
	dialForm
	Intro, Today string
	Groups       []workGroup
	Units        []choice
	Standing     []standing
	Workshop     string
	Note         string
	Wrong        string
	Request      string
}

// workGroup is work of a kind that can be ticked.
type workGroup struct {
	Title string
	Work  []choice
}

// maxNote is the longest note, in characters, as ReminderService.CreateAnswer
// has it.
const maxNote = 500

// Who did the work, as the service entry has it. The entry stays with the
// vehicle and goes to its next owner, so that nothing that somebody wrote stands
// in it: their words go into the answer, which is sealed under their key.
const (
	doneByOwner    = "the owner"
	doneByWorkshop = "a workshop, by the owner's word"
)

func (v *visit) showDone() {
	about, s, ok := v.rounds()
	if !ok {
		return
	}
	f := doneForm{dialForm: dialForm{Unit: s.GetPace().GetUnit(), Date: v.today.String()}, Request: uuid.NewString()}
	var ticked []string
	if len(about) == 1 { // of several nobody else knows which were done
		ticked = cycles(about)
	}
	v.askDone(http.StatusOK, f, about, ticked)
}

func (v *visit) askDone(status int, f doneForm, about []round, ticked []string) {
	var err error
	if f.Standing, err = v.standings(reminderv1.AnswerKind_ANSWER_KIND_DONE, "done"); err != nil {
		v.failed(err)
		return
	}
	if len(about) == 0 && len(f.Standing) == 0 {
		v.nothingOpen()
		return
	}
	f.Groups = v.groups(about, ticked)
	f.Today, f.Units = v.today.String(), v.units(f.Unit)
	f.Intro = v.say("done.intro", "serial", v.target.Serial)
	v.ask(status, "done.html", v.say("done.title"), f)
}

// groups parts the work into what bears on safety and the rest.
func (v *visit) groups(about []round, ticked []string) []workGroup {
	safety, other := workGroup{Title: v.say("done.safety")}, workGroup{Title: v.say("done.other")}
	for _, r := range about {
		group := &other
		if r.safety {
			group = &safety
		}
		group.Work = append(group.Work, choice{r.Cycle, r.Label, slices.Contains(ticked, r.Cycle)})
	}
	return slices.DeleteFunc([]workGroup{safety, other}, func(g workGroup) bool { return len(g.Work) == 0 })
}

// done records work that an owner says is done: the service entry first, then
// the answer that makes the works ask for the papers. Both know the form
// again, so that sending it twice records one.
func (v *visit) done() {
	if v.form.text("do") == "undo" {
		v.withdraw(reminderv1.AnswerKind_ANSWER_KIND_DONE, "done", v.strikeOut)
		return
	}
	all, s, ok := v.rounds()
	if !ok {
		return
	}
	f := doneForm{dialForm: dialOf(v.form), Workshop: v.form.text("workshop"), Note: v.form.text("note"), Request: v.form.request()}
	ticked := v.form.Values["item"]
	about := v.ticked(ticked, all, s)
	entry, wrong := v.entryOf(&f, about)
	if wrong == "" && entry.GetReading() != nil {
		before, err := v.readings()
		if err != nil {
			v.failed(err)
			return
		}
		if !v.confirmed(&f.dialForm, must(vehiclewire.Entered(entry.GetReading())), dayIn(entry.GetServiceDate()), counted(before), s) {
			v.askDone(http.StatusOK, f, all, ticked)
			return
		}
	}
	if wrong == "" {
		wrong = v.recordDone(f, entry, about)
	}
	if wrong != "" {
		f.Wrong, f.Request = v.say(wrong, v.limits(s)...), again(wrong, f.Request)
		v.askDone(http.StatusUnprocessableEntity, f, all, ticked)
	}
}

// ticked gives the work that was ticked. A form that is sent twice names rounds
// that the first time has ended; they are taken as they were, so that the
// second time is known again.
func (v *visit) ticked(names []string, open []round, s *schedulev1.Schedule) []round {
	var about []round
	for _, name := range names {
		if at := slices.IndexFunc(open, func(r round) bool { return r.Cycle == name }); at >= 0 {
			about = append(about, open[at])
			continue
		}
		item, _, _ := strings.Cut(name, ".")
		at := slices.IndexFunc(s.GetItems(), func(m *schedulev1.ItemStatus) bool { return m.GetItemId() == item })
		told := v.served() == nil || slices.ContainsFunc(v.notice.GetLines(), func(l *reminderv1.NoticeLine) bool { return l.GetCycle() == name })
		if at >= 0 && told {
			about = append(about, round{Cycle: name, Item: item, Label: v.title(item, s.GetItems()[at].GetTitle())})
		}
	}
	return about
}

// entryOf reads the form, or gives the phrase that says what is wrong.
func (v *visit) entryOf(f *doneForm, about []round) (*schedulev1.ServiceEntry, string) {
	on, wrong := v.day(f.Date)
	switch {
	case wrong != "":
		return nil, wrong
	case len(about) == 0:
		return nil, "wrong.no-item"
	case slices.ContainsFunc(about, func(r round) bool { return on.Before(r.began()) }):
		return nil, "wrong.day-done"
	case fault.Longer(f.Workshop, maxName) || fault.Longer(f.Note, maxNote):
		return nil, "wrong.long"
	}
	e := &schedulev1.ServiceEntry{ServiceDate: vehiclewire.DateProto(on), DoneBy: doneByOwner}
	if f.Workshop != "" {
		e.DoneBy = doneByWorkshop
	}
	if f.Value != "" || f.Exact != "" {
		value, wrong := v.entered(&f.dialForm)
		if wrong != "" {
			return nil, wrong
		}
		e.Reading = vehiclewire.EnteredProto(value)
	}
	for _, r := range about {
		e.Items = append(e.Items, &schedulev1.ItemDone{ItemId: r.Item})
	}
	return e, ""
}

// recordDone records the entry and the answer and thanks for them; or gives the
// phrase for a field.
func (v *visit) recordDone(f doneForm, entry *schedulev1.ServiceEntry, about []round) (wrong string) {
	entry, err := v.Schedules.RecordService(v.owner(), &schedulev1.RecordServiceRequest{
		Parent: v.vehicle, ServiceEntry: entry, RequestId: second(f.Request, "entry"),
	})
	if err != nil {
		if wrong = wrongKey(err); wrong == "" {
			v.failed(err)
		}
		return wrong
	}
	on := dayIn(entry.GetServiceDate())
	a, wrong := v.create(about, &reminderv1.Answer{
		Kind: reminderv1.AnswerKind_ANSWER_KIND_DONE, AnswerDate: vehiclewire.DateProto(on),
		Workshop: f.Workshop, Note: f.Note, ServiceEntry: entry.GetName(),
	}, f.Request)
	if a == nil {
		return wrong
	}
	back := v.takeBack(a, "done")
	v.result(v.say("thanks.title"), message{
		Text: []string{v.say("done.have", "date", v.habit.Date(on))}, List: labels(about),
		After: append([]string{v.say("done.papers"), v.say("done.measured")}, v.next(entry)...), Undo: &back, Press: v.press(links.Schedule, "press.schedule"),
	})
	return ""
}

// next says when the work of an entry is due again.
func (v *visit) next(entry *schedulev1.ServiceEntry) []string {
	s, err := v.due(schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC)
	if err != nil {
		return nil
	}
	var said []string
	for _, m := range s.GetItems() {
		done := slices.ContainsFunc(entry.GetItems(), func(d *schedulev1.ItemDone) bool { return d.GetItemId() == m.GetItemId() })
		if by := acted(m); done && !by.IsZero() && by.After(v.today) {
			said = append(said, v.say("done.next", "title", v.title(m.GetItemId(), m.GetTitle()), "date", v.habit.Date(by)))
		}
	}
	return said
}

// strikeOut voids the service entry of an answer. One that is void already, or
// that the works has made its own, stays as it is.
func (v *visit) strikeOut(a *reminderv1.Answer) error {
	if a.GetServiceEntry() == "" {
		return nil
	}
	ask := &schedulev1.ListServiceEntriesRequest{Parent: v.vehicle, PageSize: 500}
	for {
		page, err := v.Schedules.ListServiceEntries(v.owner(), ask)
		if err != nil {
			return err
		}
		for _, e := range page.GetServiceEntries() {
			if e.GetName() != a.GetServiceEntry() || e.GetVoidReason() != "" {
				continue
			}
			_, err := v.Schedules.VoidServiceEntry(v.owner(), &schedulev1.VoidServiceEntryRequest{
				Name: e.GetName(), Etag: e.GetEtag(), Reason: "taken back by the owner", RequestId: second(v.form.request(), "void"),
			})
			if f := rpcerr.FromStatus(err); f != nil && f.Kind != fault.NotFound {
				return err
			}
			return nil
		}
		if ask.PageToken = page.GetNextPageToken(); ask.PageToken == "" {
			return nil
		}
	}
}
