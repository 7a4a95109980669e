package reminderrpc

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/testing/protocmp"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

const oil, brakes = "E01.2025-05-01", "B02.2025-05-01"

func newAnswerDesk(t *testing.T) *desk {
	d := newDesk(t)
	vital := dueItem("B02", "Brake fluid", today)
	vital.Item.ItemClass = schedulev1.ItemClass_ITEM_CLASS_SAFETY
	d.town.vehicle(serial1, dueItem("E01", "Engine oil and filter", today), vital)
	d.town.vehicle(serial2, dueItem("E01", "Engine oil and filter", today))
	d.town.owner(serial1, "p1")
	d.town.owner(serial1, "p2")
	return d
}

func on(day vehicle.Date) *date.Date { return vehiclewire.DateProto(day) }

func booked(cycles ...string) *reminderv1.Answer {
	return &reminderv1.Answer{Kind: reminderv1.AnswerKind_ANSWER_KIND_BOOKED, Cycles: cycles, AnswerDate: on(today.AddDays(10)), Workshop: "Harbour Garage", Note: "ask for Jonas"}
}

func TestAnAnswerIsRecordedOnceAndTakenBackOnce(t *testing.T) {
	d := newAnswerDesk(t)
	create := &reminderv1.CreateAnswerRequest{Parent: "vehicles/am-0147 p", Answer: booked(oil), RequestId: uuid.NewString()}
	a, err := d.CreateAnswer(d.as(t, "p1"), create)
	if err != nil {
		t.Fatal(err)
	}
	if a.GetPerson() != "people/p1" || a.GetRecordedBy() != "owner" || !a.GetCreateTime().AsTime().Equal(now) || a.GetEtag() == "" || a.GetWithdrawTime() != nil {
		t.Errorf("recorded as %v", a)
	}
	again, err := d.CreateAnswer(d.as(t, "p1"), create)
	if diff := cmp.Diff(a, again, protocmp.Transform()); diff != "" || err != nil {
		t.Errorf("asked again: %v\n%s", err, diff)
	}
	if held := d.Store.Answers(serial1); len(held) != 1 || held[0].Kind != reminder.Booked {
		t.Errorf("the pass sees %+v", held)
	}
	if tasks := d.tasks(t); len(tasks) != 0 {
		t.Errorf("booking makes tasks: %v", tasks)
	}
	d.now = now.Add(time.Hour)
	withdraw := &reminderv1.WithdrawAnswerRequest{Name: a.GetName(), Etag: a.GetEtag(), RequestId: uuid.NewString()}
	for range 2 {
		back, err := d.WithdrawAnswer(d.as(t, "p1"), withdraw)
		if err != nil || !back.GetWithdrawTime().AsTime().Equal(d.now) {
			t.Fatalf("taken back: %v, %v", back, err)
		}
	}
	if held := d.Store.Answers(serial1); len(held) != 0 {
		t.Errorf("the pass still sees %+v", held)
	}
	_, err = d.WithdrawAnswer(d.as(t, "p1"), &reminderv1.WithdrawAnswerRequest{Name: a.GetName(), RequestId: uuid.NewString()})
	if !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("taken back twice: %v", err)
	}
}

func TestAnAnswerIsCheckedAgainstTheVehicle(t *testing.T) {
	d := newAnswerDesk(t)
	other := d.notice(t, serial2, "p1", reminder.Mail, oil)
	p2s := d.notice(t, serial1, "p2", reminder.Mail, oil)
	for _, c := range []struct {
		name   string
		change func(*reminderv1.Answer)
		field  string // that the refusal names; "" for none
	}{
		{"a good one", func(*reminderv1.Answer) {}, ""},
		{"no kind", func(a *reminderv1.Answer) { a.Kind, a.AnswerDate = 0, on(today) }, "answer.kind"},
		{"no round", func(a *reminderv1.Answer) { a.Cycles = nil }, "answer.cycles"},
		{"a round that is not open", func(a *reminderv1.Answer) { a.Cycles = []string{"E01.2020-01-01"} }, "answer.cycles[0]"},
		{"no day", func(a *reminderv1.Answer) { a.AnswerDate = nil }, "answer.answer_date"},
		{"a day that is none", func(a *reminderv1.Answer) { a.AnswerDate = &date.Date{Year: 2026, Month: 2, Day: 30} }, "answer.answer_date"},
		{"booked for yesterday", func(a *reminderv1.Answer) { a.AnswerDate = on(today.AddDays(-1)) }, "answer.answer_date"},
		{"put off for 30 days, the most for what bears on safety", func(a *reminderv1.Answer) {
			a.Kind, a.Cycles, a.AnswerDate = reminderv1.AnswerKind_ANSWER_KIND_SNOOZED, []string{brakes}, on(today.AddDays(30))
		}, ""},
		{"put off for longer", func(a *reminderv1.Answer) {
			a.Kind, a.Cycles, a.AnswerDate = reminderv1.AnswerKind_ANSWER_KIND_SNOOZED, []string{brakes}, on(today.AddDays(31))
		}, "answer.answer_date"},
		{"done tomorrow", func(a *reminderv1.Answer) {
			a.Kind, a.AnswerDate = reminderv1.AnswerKind_ANSWER_KIND_DONE, on(today.AddDays(1))
		}, "answer.answer_date"},
		{"a note as long as it may be", func(a *reminderv1.Answer) { a.Note = strings.Repeat("é", 500) }, ""},
		{"a longer note", func(a *reminderv1.Answer) { a.Note = strings.Repeat("é", 500) + "." }, "answer.note"},
		{"a notice of another vehicle", func(a *reminderv1.Answer) { a.Notice = "notices/" + other.ID }, "answer.notice"},
		{"a notice to somebody else", func(a *reminderv1.Answer) { a.Notice = "notices/" + p2s.ID }, "answer.notice"},
		{"a notice that is not there", func(a *reminderv1.Answer) { a.Notice = "notices/AM0147P.x" }, "answer.notice"},
		{"an entry of another vehicle", func(a *reminderv1.Answer) { a.ServiceEntry = "vehicles/AM0093L/serviceEntries/1" }, "answer.service_entry"},
	} {
		a := booked(oil)
		c.change(a)
		_, err := d.CreateAnswer(d.as(t, "p1"), &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial1, Answer: a, RequestId: uuid.NewString()})
		f, _ := err.(*fault.Error)
		switch {
		case c.field == "" && err != nil:
			t.Errorf("%s: %v", c.name, err)
		case c.field != "" && (f == nil || f.Kind != fault.Invalid || len(f.Fields) != 1 || f.Fields[0].Name != c.field):
			t.Errorf("%s: got %v, want a refusal of %s alone", c.name, err, c.field)
		}
	}
	if _, err := d.CreateAnswer(d.staff(t), &reminderv1.CreateAnswerRequest{Parent: "vehicles/AM0999X", Answer: booked(oil)}); err == nil {
		t.Error("an answer about a vehicle that is not there")
	}
}

func TestAnOwnerAnswersForThemselvesOnly(t *testing.T) {
	d := newAnswerDesk(t)
	a := booked(oil)
	a.Person = "people/p2"
	create := func() error {
		_, err := d.CreateAnswer(d.as(t, "p1"), &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial1, Answer: a, RequestId: uuid.NewString()})
		return err
	}
	if err := create(); !fault.Is(err, fault.NotFound) {
		t.Errorf("an answer in another's name: %v", err)
	}
	a.Person = "people/p1"
	if err := create(); err != nil {
		t.Error(err)
	}
	theirs, err := d.CreateAnswer(d.staff(t), &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial1, Answer: booked(oil), RequestId: uuid.NewString()})
	if err != nil || theirs.GetPerson() != "" || theirs.GetRecordedBy() != "front desk" {
		t.Errorf("the works' own: %v, %v", theirs, err)
	}
	for _, person := range []string{"p1", "p2"} {
		if _, err := d.WithdrawAnswer(d.as(t, person), &reminderv1.WithdrawAnswerRequest{Name: theirs.GetName(), RequestId: uuid.NewString()}); !fault.Is(err, fault.NotFound) {
			t.Errorf("%s takes the works' answer back: %v", person, err)
		}
	}
	if _, err := d.WithdrawAnswer(d.staff(t), &reminderv1.WithdrawAnswerRequest{Name: theirs.GetName(), Etag: "1", RequestId: uuid.NewString()}); !fault.Is(err, fault.Aborted) {
		t.Errorf("on an old etag: %v", err)
	}
}

func TestWhatIsSaidToBeDoneIsATaskUntilItIsTakenBack(t *testing.T) {
	d := newAnswerDesk(t)
	done := &reminderv1.Answer{Kind: reminderv1.AnswerKind_ANSWER_KIND_DONE, Cycles: []string{oil}, AnswerDate: on(today)}
	create := &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial1, Answer: done, RequestId: uuid.NewString()}
	var name string
	for range 2 {
		a, err := d.CreateAnswer(d.as(t, "p1"), create)
		if err != nil {
			t.Fatal(err)
		}
		name = a.GetName()
	}
	if got := d.tasks(t); !slices.Equal(got, []string{"SAID_DONE"}) {
		t.Fatalf("tasks %v", got)
	}
	if _, err := d.WithdrawAnswer(d.as(t, "p1"), &reminderv1.WithdrawAnswerRequest{Name: name, RequestId: uuid.NewString()}); err != nil {
		t.Fatal(err)
	}
	if got := d.tasks(t); len(got) != 0 {
		t.Errorf("the task stays open: %v", got)
	}
	// Said once more: another answer, another task.
	create.RequestId = uuid.NewString()
	if _, err := d.CreateAnswer(d.as(t, "p1"), create); err != nil || len(d.tasks(t)) != 1 {
		t.Errorf("said once more: %v, tasks %v", err, d.tasks(t))
	}
}

func TestAnswersAreListedByVehicleTheOldestFirst(t *testing.T) {
	d := newAnswerDesk(t)
	var want []string
	for _, serial := range []string{serial2, serial1} { // in order of serial
		for range 5 {
			a, err := d.CreateAnswer(d.staff(t), &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial, Answer: booked(oil), RequestId: uuid.NewString()})
			if err != nil {
				t.Fatal(err)
			}
			want = append(want, a.GetName())
			d.now = d.now.Add(time.Minute)
		}
	}
	for size := int32(1); size <= 11; size++ {
		var got []string
		r := &reminderv1.ListAnswersRequest{Parent: "vehicles/-", PageSize: size}
		for {
			page, err := d.ListAnswers(d.staff(t), r)
			if err != nil {
				t.Fatal(err)
			}
			for _, a := range page.GetAnswers() {
				got = append(got, a.GetName())
			}
			if r.PageToken = page.GetNextPageToken(); r.PageToken == "" {
				break
			}
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("in pages of %d:\n%s", size, diff)
		}
	}
	one, err := d.ListAnswers(d.staff(t), &reminderv1.ListAnswersRequest{Parent: "vehicles/" + serial2})
	if err != nil || len(one.GetAnswers()) != 5 || one.GetNextPageToken() != "" {
		t.Errorf("of one vehicle: %v, %v", one, err)
	}
}

func TestAnOwnerSeesOfOthersAnswersOnlyWhatIsSilenced(t *testing.T) {
	d := newAnswerDesk(t)
	var names []string
	for _, person := range []string{"p1", "p2", "p2"} {
		a, err := d.CreateAnswer(d.as(t, person), &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial1, Answer: booked(oil), RequestId: uuid.NewString()})
		if err != nil {
			t.Fatal(err)
		}
		names = append(names, a.GetName())
		d.now = d.now.Add(time.Minute)
	}
	if _, err := d.WithdrawAnswer(d.as(t, "p2"), &reminderv1.WithdrawAnswerRequest{Name: names[2]}); err != nil {
		t.Fatal(err)
	}
	r, err := d.ListAnswers(d.as(t, "p1"), &reminderv1.ListAnswersRequest{Parent: "vehicles/" + serial1})
	if err != nil || len(r.GetAnswers()) != 2 {
		t.Fatalf("got %v, %v", r, err)
	}
	own, other := r.GetAnswers()[0], r.GetAnswers()[1]
	if own.GetWorkshop() == "" || own.GetNote() == "" || own.GetPerson() != "people/p1" {
		t.Errorf("their own: %v", own)
	}
	if other.GetName() != names[1] || other.GetPerson() != "" || other.GetWorkshop() != "" || other.GetNote() != "" || other.GetRecordedBy() != "" || len(other.GetCycles()) != 1 {
		t.Errorf("another's: %v", other)
	}
}
