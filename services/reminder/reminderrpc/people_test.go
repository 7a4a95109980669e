package reminderrpc

import (
	"testing"
	"time"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// A change of owner cuts the ties on the day in UTC. Where it is still the day
// before, the former owner's links and calendars are dead all the same, and the
// new owner's live.
func TestLinksAndCalendarsChangeHandsAtOnceWestOfUTC(t *testing.T) {
	d := newCalendarDesk(t)
	d.town.people["people/p1"].TimeZone = "America/Los_Angeles"
	d.town.owner(serial1, "p2").TimeZone = "America/Los_Angeles"
	secret := d.feed(t).GetSecret()
	d.now = time.Date(2026, 11, 26, 1, 0, 0, 0, time.UTC) // 17:00 on the 25th there
	handed := vehicle.DateOf(d.now)
	d.town.ends(serial1, "p1", handed)
	d.town.ties[serial1][1].StartDate = vehiclewire.DateProto(handed)
	check := func(person string) error {
		_, err := d.CheckLink(t.Context(), &reminderv1.CheckLinkRequest{Vehicle: "vehicles/" + serial1, Person: person})
		return err
	}
	if err := check("people/p1"); !fault.Is(err, fault.NotFound) {
		t.Errorf("the former owner's links: got %v", err)
	}
	d.dead(t, "the former owner's calendar", secret)
	if err := check("people/p2"); err != nil {
		t.Errorf("the new owner's links: got %v", err)
	}
	d.now = time.Date(2026, 11, 25, 23, 59, 59, 0, time.UTC) // before it, the other way round
	d.read(t, secret)
	if err := check("people/p2"); !fault.Is(err, fault.NotFound) {
		t.Errorf("the new owner's links the day before: got %v", err)
	}
}

// What somebody did today counts for what they are asked and shown, though it is
// yesterday or tomorrow in UTC.
func TestAScheduleIsAskedForOnThePersonsOwnDay(t *testing.T) {
	for _, c := range []struct {
		zone string
		now  time.Time
		want string
	}{
		{"Pacific/Auckland", time.Date(2026, 11, 25, 23, 30, 0, 0, time.UTC), "2026-11-26"},
		{"Europe/Berlin", time.Date(2026, 11, 25, 23, 30, 0, 0, time.UTC), "2026-11-26"},
		{"America/Los_Angeles", time.Date(2026, 11, 26, 1, 0, 0, 0, time.UTC), "2026-11-25"},
	} {
		d := newCalendarDesk(t)
		d.town.people["people/p1"].TimeZone = c.zone
		d.now = c.now
		secret := d.feed(t).GetSecret()
		if d.read(t, secret); d.town.askedOn.String() != c.want {
			t.Errorf("a calendar in %s: asked on %s, want %s", c.zone, d.town.askedOn, c.want)
		}
		d.town.askedOn = vehicle.Date{}
		own := vehicle.DateOf(c.now.In(zone(t, c.zone)))
		_, err := d.CreateAnswer(d.as(t, "p1"), &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial1, RequestId: uuid.NewString(), Answer: &reminderv1.Answer{
			Kind: reminderv1.AnswerKind_ANSWER_KIND_BOOKED, Cycles: []string{oil}, AnswerDate: vehiclewire.DateProto(own)}})
		if err != nil || d.town.askedOn.String() != c.want {
			t.Errorf("an answer in %s: asked on %s, want %s; %v", c.zone, d.town.askedOn, c.want, err)
		}
	}
}

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// A link that confirms proves who reads at the address on record, and no more where
// that is another since.
func TestALinkThatConfirmsSaysWhetherItsAddressWasReplaced(t *testing.T) {
	d := newDesk(t)
	p := d.town.owner(serial1, "p1")
	p.Email = "owner@harbour.example"
	_, err := d.SendConfirmation(d.as(t, "p1"), &reminderv1.SendConfirmationRequest{
		Parent: "vehicles/" + serial1, Person: "people/p1", Matter: reminderv1.ConfirmationMatter_CONFIRMATION_MATTER_CONTACT, RequestId: uuid.NewString(),
	})
	if err != nil {
		t.Fatal(err)
	}
	kept := d.Store.Unfinished()
	if len(kept) != 1 {
		t.Fatalf("got %d notices", len(kept))
	}
	for _, c := range []struct {
		email string
		want  bool
	}{{"owner@harbour.example", false}, {"new@moor.example", true}, {"", true}} {
		p.Email = c.email
		r, err := d.CheckLink(t.Context(), &reminderv1.CheckLinkRequest{Vehicle: "vehicles/" + serial1, Person: "people/p1", Notice: "notices/" + kept[0].ID})
		if err != nil || r.GetAddressReplaced() != c.want {
			t.Errorf("with %q: %v, %v", c.email, r.GetAddressReplaced(), err)
		}
	}
}
