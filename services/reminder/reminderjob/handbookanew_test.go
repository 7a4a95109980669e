package reminderjob

import (
	"context"
	"strings"
	"testing"

	"google.golang.org/grpc"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/vehicle/vehiclewire"
)

// shelf is handbooks of which one is issued.
type shelf struct{ Handbooks }

func (shelf) GetHandbookIssue(_ context.Context, r *handbookv1.GetHandbookIssueRequest, _ ...grpc.CallOption) (*handbookv1.HandbookIssue, error) {
	return &handbookv1.HandbookIssue{Name: r.GetName(), Title: "The handbook", OnDate: vehiclewire.DateProto(today), Language: "en"}, nil
}

// A mail that is refused for good is followed by a letter, once; one that the
// letter follows is not sent again.
func TestAHandbookWhoseMailIsRefusedIsToldByLetter(t *testing.T) {
	o := newOffice(t)
	o.Handbooks = shelf{}
	o.post.does = func(string, []byte) reminder.Attempt {
		return reminder.Attempt{Outcome: reminder.RefusedIt, Text: "550 5.7.1 not here"}
	}
	p := o.town.owner(serial(1), "p1")
	p.PostalLines = []string{"1 Invented Row", "Fictionbury"}
	answer, err := o.SendHandbook(t.Context(), reminderstore.Request{}, HandbookAsk{
		Serial: serial(1), Issue: "vehicles/" + string(serial(1)) + "/handbookIssues/3",
	})
	if err != nil || len(answer.GetNotices()) != 1 {
		t.Fatalf("got %v, %v", answer, err)
	}
	if got := counts(o.run(t)); got != "claimed 1 tasks 1 rerouted 1 letters 1" {
		t.Errorf("the first pass: %q\n%s", got, o.log)
	}
	o.post.does = nil
	for range 2 {
		if got := counts(o.run(t)); got != "letters 1" {
			t.Errorf("a pass later: %q\n%s", got, o.log)
		}
	}
	if o.post.total() != 0 {
		t.Errorf("%d mails went out", o.post.total())
	}
	all := o.Store.Unfinished()
	if len(all) != 1 || all[0].Channel != reminder.Letter || !strings.Contains(all[0].ID, "handbook-due.letter.p1") {
		t.Errorf("what is left is %v", all)
	}
}

// Where there is no other way it stays parked, for somebody to look after.
func TestAHandbookWhoseMailIsRefusedIsParkedWhereThereIsNoOtherWay(t *testing.T) {
	o := newOffice(t)
	o.Handbooks = shelf{}
	o.post.does = func(string, []byte) reminder.Attempt {
		return reminder.Attempt{Outcome: reminder.RefusedIt, Text: "550 5.7.1 not here"}
	}
	o.town.owner(serial(1), "p1")
	if _, err := o.SendHandbook(t.Context(), reminderstore.Request{}, HandbookAsk{Serial: serial(1), Issue: "vehicles/" + string(serial(1)) + "/handbookIssues/3"}); err != nil {
		t.Fatal(err)
	}
	if got := counts(o.run(t)); got != "parked 1 tasks 1" {
		t.Errorf("got %q\n%s", got, o.log)
	}
	if got := counts(o.run(t)); got != "" {
		t.Errorf("a pass later: %q", got)
	}
}
