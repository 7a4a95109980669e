package reminderjob

import (
	"bytes"
	"io"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-message/mail"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/vehicle/vehiclewire"
)

// unfolded is the text of a mail, and its subject before it.
func unfolded(t *testing.T, raw []byte) string {
	t.Helper()
	m, err := mail.CreateReader(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	subject, err := m.Header.Subject()
	if err != nil {
		t.Fatal(err)
	}
	part, err := m.NextPart()
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(part.Body)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(subject+" "+string(text)), " ")
}

// linkIn reads the one link of a text.
func linkIn(t *testing.T, o *office, text string) links.Link {
	t.Helper()
	all := regexp.MustCompile(`/l/([A-Za-z0-9_-]+)`).FindAllStringSubmatch(text, -1)
	if len(all) != 1 {
		t.Fatalf("%d links in %s", len(all), text)
	}
	l, err := o.Links.Read(all[0][1], o.now)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// replacedMail has p1 own a vehicle, and their mail address replaced.
func replacedMail(o *office) *ownerv1.ContactChange {
	o.town.owner(serial(1), "p1").Email = "new@moor.example"
	c := &ownerv1.ContactChange{Name: "people/p1/contactChanges/c1", FormerEmail: "old@harbour.example", ChangeTime: timestamppb.New(noon)}
	o.town.changes = []*ownerv1.ContactChange{c}
	return c
}

// passes runs so many.
func (o *office) passes(t *testing.T, n int) {
	t.Helper()
	for range n {
		o.run(t)
	}
}

func TestAFormerAddressIsToldOnceThatItWasReplaced(t *testing.T) {
	o := newOffice(t)
	m := mutely(t, o)
	m.lives(true)
	replacedMail(o)
	o.passes(t, 3)
	got := m.copies("old@harbour.example")
	if len(got) != 1 || len(m.copies("new@moor.example")) != 0 {
		t.Fatalf("the old address got %d, the new one %d\n%s", len(got), len(m.copies("new@moor.example")), o.log)
	}
	for _, want := range []string{"mail address with us was replaced", "18 May 2026"} {
		if !strings.Contains(unfolded(t, got[0]), want) {
			t.Errorf("without %q:\n%s", want, got[0])
		}
	}
	for _, never := range []string{"new@moor.example", "/l/", "List-Unsubscribe"} {
		if strings.Contains(string(got[0]), never) {
			t.Errorf("it says %q:\n%s", never, got[0])
		}
	}
	if len(o.town.changes) != 0 {
		t.Error("the change is kept")
	}
}

// A crash between the claim and the forgetting tells nobody twice.
func TestAFormerAddressIsToldOnceWhereTheChangeIsNotForgotten(t *testing.T) {
	o := newOffice(t)
	m := mutely(t, o)
	m.lives(true)
	replacedMail(o)
	o.town.keepChanges = true
	o.passes(t, 3)
	o.town.owner(serial(0), "p1") // they have another vehicle since, that comes first
	o.passes(t, 2)
	o.town.keepChanges = false
	o.passes(t, 2)
	if n := len(m.copies("old@harbour.example")); n != 1 || len(o.town.changes) != 0 {
		t.Errorf("told %d times, %d left\n%s", n, len(o.town.changes), o.log)
	}
}

// Whoever had the address replaced may have had the vehicle taken over next.
func TestAFormerAddressIsToldAfterTheVehicleWentToAnother(t *testing.T) {
	o := newOffice(t)
	m := mutely(t, o)
	m.lives(true)
	replacedMail(o)
	o.town.ties[string(serial(1))][0].EndDate = vehiclewire.DateProto(today)
	o.passes(t, 2)
	if n := len(m.copies("old@harbour.example")); n != 1 {
		t.Errorf("told %d times\n%s", n, o.log)
	}
}

func TestWhoHasNoVehicleIsNotToldOfAnAddress(t *testing.T) {
	o := newOffice(t)
	m := mutely(t, o)
	m.lives(true)
	replacedMail(o)
	o.town.ties = map[string][]*ownerv1.Tie{}
	o.passes(t, 2)
	if n := len(m.copies("old@harbour.example")); n != 0 || len(o.town.changes) != 0 {
		t.Errorf("told %d times, %d left", n, len(o.town.changes))
	}
}

// An address that leads nowhere is no news: that is why it was replaced.
func TestAFormerAddressThatLeadsNowhereMakesNoTask(t *testing.T) {
	o := newOffice(t)
	o.post.does = func(string, []byte) reminder.Attempt {
		return reminder.Attempt{Outcome: reminder.RefusedIt, Text: "550 5.1.1 unknown", Recipient: true}
	}
	replacedMail(o)
	o.passes(t, 2)
	tasks, err := o.Store.Tasks(t.Context(), "", 10, func(reminder.Task) bool { return true })
	if err != nil || len(tasks) != 0 {
		t.Errorf("got %v, %v", tasks, err)
	}
}

func TestALinkThatConfirmsGoesToTheAddressOnRecordAndNowhereElse(t *testing.T) {
	o := newOffice(t)
	m := mutely(t, o)
	m.lives(true)
	o.town.owner(serial(1), "p1").Email = "owner@harbour.example"
	ask := reminderstore.Request{ID: "0192f0c4-5a4e-7000-8000-000000000001", Payload: &reminderv1.SendConfirmationRequest{Person: "people/p1"}}
	for range 2 { // the same request sends one
		answer, err := o.SendConfirmation(t.Context(), ask, serial(1), "p1", reminder.GivesAway)
		if err != nil || answer.GetChannel() != reminderv1.Channel_CHANNEL_MAIL {
			t.Fatalf("got %v, %v", answer, err)
		}
	}
	o.passes(t, 2)
	got := m.copies("owner@harbour.example")
	if len(got) != 1 {
		t.Fatalf("got %d mails\n%s", len(got), o.log)
	}
	l := linkIn(t, o, unfolded(t, got[0]))
	if l.Purpose != links.GiveAway || !l.Expires.Equal(noon.Add(2*time.Hour)) || strings.Contains(string(got[0]), "List-Unsubscribe") {
		t.Errorf("the link is %+v in\n%s", l, got[0])
	}
}

// A mail server that was away for hours does not send dead links.
func TestALinkThatConfirmsIsNotSentWhenItIsDead(t *testing.T) {
	o := newOffice(t)
	o.post.does = func(string, []byte) reminder.Attempt {
		return reminder.Attempt{Outcome: reminder.TryLater, Text: "451 later"}
	}
	o.town.owner(serial(1), "p1").Email = "owner@harbour.example"
	if _, err := o.SendConfirmation(t.Context(), reminderstore.Request{}, serial(1), "p1", reminder.Moves); err != nil {
		t.Fatal(err)
	}
	o.run(t)
	o.post.does = nil
	o.now = o.now.Add(reminder.ConfirmLasts)
	o.run(t)
	if n := len(o.post.taken["owner@harbour.example"]); n != 0 {
		t.Errorf("%d went out", n)
	}
}

func TestWhoCannotBeAskedGetsNoLink(t *testing.T) {
	o := newOffice(t)
	o.town.owner(serial(1), "p1").Email = ""
	if _, err := o.SendConfirmation(t.Context(), reminderstore.Request{}, serial(1), "p1", reminder.GivesAway); err == nil {
		t.Error("there is no address to send it to")
	}
	if _, err := o.SendConfirmation(t.Context(), reminderstore.Request{}, serial(1), "p2", reminder.GivesAway); err == nil {
		t.Error("somebody else has nothing to do with the vehicle")
	}
}
