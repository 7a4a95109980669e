package reminderrpc

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/protobuf/testing/protocmp"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
)

// kept reports whether some words stand in the store as they are.
func (d *desk) kept(t *testing.T, words string) bool {
	t.Helper()
	all, err := d.kv.Client().Get(t.Context(), "", clientv3.WithFromKey())
	if err != nil {
		t.Fatal(err)
	}
	for _, pair := range all.Kvs {
		if bytes.Contains(pair.Value, []byte(words)) {
			return true
		}
	}
	return false
}

func TestWhatAPersonSaysInTheirOwnWordsIsKeptUnderTheirKey(t *testing.T) {
	d := newAnswerDesk(t)
	create := &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial1, Answer: booked(oil), RequestId: uuid.NewString()}
	a, err := d.CreateAnswer(d.as(t, "p1"), create)
	if err != nil || a.GetWorkshop() != "Harbour Garage" || a.GetNote() != "ask for Jonas" {
		t.Fatalf("recorded as %v, %v", a, err)
	}
	if again, err := d.CreateAnswer(d.as(t, "p1"), create); err != nil || cmp.Diff(a, again, protocmp.Transform()) != "" {
		t.Errorf("asked again: %v, %v", again, err)
	}
	if d.kept(t, "Harbour") || d.kept(t, "Jonas") {
		t.Error("their words are in the store as they are")
	}
	for _, held := range d.Store.Answers(serial1) {
		if held.Workshop != "" || held.Note != "" {
			t.Errorf("the pass is given %+v", held)
		}
	}
	list := func() (answers []*reminderv1.Answer) {
		r, err := d.ListAnswers(d.staff(t), &reminderv1.ListAnswersRequest{Parent: "vehicles/" + serial1})
		if err != nil {
			t.Fatal(err)
		}
		return r.GetAnswers()
	}
	if got := list()[0]; got.GetWorkshop() != "Harbour Garage" || got.GetNote() != "ask for Jonas" {
		t.Errorf("the works sees %v", got)
	}
	back, err := d.WithdrawAnswer(d.as(t, "p1"), &reminderv1.WithdrawAnswerRequest{Name: a.GetName(), RequestId: uuid.NewString()})
	if err != nil || back.GetNote() != "ask for Jonas" || list()[0].GetWorkshop() != "Harbour Garage" {
		t.Errorf("taken back: %v, %v", back, err)
	}

	delete(d.town.people, "people/p1") // erased
	if got := list()[0]; got.GetWorkshop() != "" || got.GetNote() != "" || len(got.GetCycles()) != 1 {
		t.Errorf("after the erasure: %v", got)
	}
	again, err := d.CreateAnswer(d.as(t, "p1"), create)
	if err != nil || again.GetName() != a.GetName() || again.GetNote() != "" {
		t.Errorf("asked again after the erasure: %v, %v", again, err)
	}
}

func TestTheWordsOfAnAnswerAreBoundToItAndToThePerson(t *testing.T) {
	d := newAnswerDesk(t)
	var names []string
	for range 2 {
		a, err := d.CreateAnswer(d.as(t, "p1"), &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial1, Answer: booked(oil)})
		if err != nil {
			t.Fatal(err)
		}
		names = append(names, strings.TrimPrefix(a.GetName(), "vehicles/"+serial1+"/answers/"))
	}
	one, err := d.Store.Answer(t.Context(), serial1, names[0])
	if err != nil {
		t.Fatal(err)
	}
	other, err := d.Store.Answer(t.Context(), serial1, names[1])
	if err != nil {
		t.Fatal(err)
	}
	moved := other.Answer
	moved.Sealed = one.Sealed
	if a, err := d.withWords(t.Context(), moved); err != nil || a.Workshop != "" {
		t.Errorf("the words of another answer are read as %q, %v", a.Workshop, err)
	}
	moved = one.Answer
	moved.Person = "p2"
	if a, err := d.withWords(t.Context(), moved); err != nil || a.Workshop != "" {
		t.Errorf("as another person's they are read as %q, %v", a.Workshop, err)
	}
}

func TestTheWorksOwnAnswerIsKeptOpen(t *testing.T) {
	d := newAnswerDesk(t)
	a, err := d.CreateAnswer(d.staff(t), &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial1, Answer: booked(oil)})
	if err != nil || a.GetNote() != "ask for Jonas" || !d.kept(t, "Jonas") {
		t.Errorf("got %v, %v", a, err)
	}
	theirs := booked(brakes)
	theirs.Person, theirs.Note = "people/p2", "said at the counter"
	if a, err = d.CreateAnswer(d.staff(t), &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial1, Answer: theirs}); err != nil || a.GetNote() != theirs.Note {
		t.Errorf("for somebody: %v, %v", a, err)
	}
	if d.kept(t, theirs.Note) {
		t.Error("what the works took down for somebody is kept open")
	}
	theirs.Person = "people/p9"
	if _, err := d.CreateAnswer(d.staff(t), &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial1, Answer: theirs}); !fault.Is(err, fault.Invalid) {
		t.Errorf("for nobody: %v", err)
	}
}

func TestACalendarNamesAWorkshopToWhoeverBookedIt(t *testing.T) {
	d := newCalendarDesk(t)
	d.town.owner(serial1, "p2")
	secret := d.feed(t).GetSecret() // of p1
	read := func() string {
		r, err := d.ReadCalendar(t.Context(), &reminderv1.ReadCalendarRequest{Secret: secret})
		if err != nil {
			t.Fatal(err)
		}
		return strings.ReplaceAll(string(r.GetCalendar()), "\r\n ", "")
	}
	for _, c := range []struct {
		name string
		by   func() *reminderv1.Answer
		said bool
	}{
		{"somebody else", func() *reminderv1.Answer { return d.books(t, "p2") }, false},
		{"they themselves", func() *reminderv1.Answer { return d.books(t, "p1") }, true},
		{"the works", func() *reminderv1.Answer { return d.books(t, "") }, true},
	} {
		a := c.by()
		if got := read(); !strings.Contains(got, "STATUS:CONFIRMED") || strings.Contains(got, "Harbour Garage") != c.said {
			t.Errorf("booked by %s, the workshop is to be said: %t; the calendar is\n%s", c.name, c.said, got)
		}
		if _, err := d.WithdrawAnswer(d.staff(t), &reminderv1.WithdrawAnswerRequest{Name: a.GetName()}); err != nil {
			t.Fatal(err)
		}
	}
}

// books records that somebody, or the works for nobody, booked the engine oil.
func (d *desk) books(t *testing.T, person string) *reminderv1.Answer {
	t.Helper()
	ctx := d.staff(t)
	if person != "" {
		ctx = d.as(t, person)
	}
	a, err := d.CreateAnswer(ctx, &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial1, Answer: booked(oil)})
	if err != nil {
		t.Fatal(err)
	}
	return a
}
