package reminderrpc

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	ics "github.com/arran4/golang-ical"
	clientv3 "go.etcd.io/etcd/client/v3"

	"github.com/google/uuid"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// newCalendarDesk has a vehicle with two visits, work beside them, and an
// owner.
func newCalendarDesk(t *testing.T) *desk {
	d := newDesk(t)
	engine, axle := dueItem("E01", "Engine oil and filter", today.AddDays(20)), dueItem("A01", "Axle oil", today.AddDays(25))
	lone := dueItem("L01", "Put away for the winter", today.AddDays(150))
	check := dueItem("W01", "Tyre pressures", today.AddDays(3))
	check.Item.OwnerCheck = true
	d.town.vehicle(serial1, engine, axle, lone, check)
	next := visit(today.AddDays(385), engine)
	next.Tasks[0].Round, next.Tasks[0].DueDate = 2, vehiclewire.DateProto(today.AddDays(385))
	d.town.plans[serial1] = &schedulev1.VisitPlan{Visits: []*schedulev1.Visit{visit(today.AddDays(22), engine, axle), next}}
	d.town.owner(serial1, "p1")
	return d
}

func (d *desk) feed(t *testing.T) *reminderv1.CreateCalendarFeedResponse {
	t.Helper()
	r, err := d.CreateCalendarFeed(d.as(t, "p1"), &reminderv1.CreateCalendarFeedRequest{
		Parent: "vehicles/" + serial1, Person: "people/p1", RequestId: uuid.NewString(),
	})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// read reads a calendar and gives its events as they are printed.
func (d *desk) read(t *testing.T, secret string) (*reminderv1.ReadCalendarResponse, []*ics.VEvent) {
	t.Helper()
	r, err := d.ReadCalendar(t.Context(), &reminderv1.ReadCalendarRequest{Secret: secret})
	if err != nil {
		t.Fatal(err)
	}
	cal, err := ics.ParseCalendar(bytes.NewReader(r.GetCalendar()))
	if err != nil {
		t.Fatal(err)
	}
	return r, cal.Events()
}

func (d *desk) dead(t *testing.T, why, secret string) {
	t.Helper()
	_, err := d.ReadCalendar(t.Context(), &reminderv1.ReadCalendarRequest{Secret: secret})
	if f, ok := err.(*fault.Error); !ok || f.Kind != fault.NotFound || f.Error() != noCalendar().Error() {
		t.Errorf("%s: got %v, want the one refusal", why, err)
	}
}

func value(e *ics.VEvent, p ics.ComponentProperty) string {
	if property := e.GetProperty(p); property != nil {
		return property.Value
	}
	return ""
}

func TestACalendarHasAnEventForEachVisit(t *testing.T) {
	d := newCalendarDesk(t)
	r, events := d.read(t, d.feed(t).GetSecret())
	want := []struct{ day, end, summary, description string }{
		{"20260609", "20260610", "AM0147P: Engine oil and filter and 1 more", "Engine oil and filter, by 7 June 2026\nAxle oil, by 12 June 2026\n\n"},
		{"20261015", "20261016", "AM0147P: Put away for the winter", "Put away for the winter, by 15 October 2026\n\n"},
		{"20270607", "20270608", "AM0147P: Engine oil and filter", "Engine oil and filter, by 7 June 2027\n\n"},
	}
	if len(events) != len(want) {
		t.Fatalf("%d events:\n%s", len(events), r.GetCalendar())
	}
	for i, w := range want {
		e := events[i]
		if value(e, ics.ComponentPropertyDtStart) != w.day || value(e, ics.ComponentPropertyDtEnd) != w.end ||
			value(e, ics.ComponentPropertySummary) != w.summary || !strings.HasPrefix(value(e, ics.ComponentPropertyDescription), w.description) ||
			value(e, ics.ComponentPropertySequence) != "0" || value(e, ics.ComponentPropertyStatus) != "TENTATIVE" {
			t.Errorf("event %d is\n%s", i, e.Serialize(&ics.SerializationConfiguration{MaxLength: 200, NewLine: "\n"}))
		}
		if id := value(e, ics.ComponentPropertyUniqueId); !strings.HasSuffix(id, "@aldermoor.example") || strings.Contains(id, "p1") || strings.Contains(id, "0147") {
			t.Errorf("event %d has the identifier %s", i, id)
		}
	}
}

func TestACalendarKeepsItsBytesUntilSomethingChanges(t *testing.T) {
	d := newCalendarDesk(t)
	secret := d.feed(t).GetSecret()
	first, _ := d.read(t, secret)
	if len(first.GetEntityTag()) < 32 || strings.Contains(first.GetEntityTag(), `"`) {
		t.Errorf("the tag is %q", first.GetEntityTag())
	}
	d.now = now.AddDate(0, 0, 1)
	again, _ := d.read(t, secret)
	if !bytes.Equal(first.GetCalendar(), again.GetCalendar()) || first.GetEntityTag() != again.GetEntityTag() {
		t.Errorf("a day later:\n%s", again.GetCalendar())
	}
	d.town.plans[serial1].Visits[0].VisitDate = vehiclewire.DateProto(today.AddDays(23))
	d.now = now.AddDate(0, 0, 2)
	moved, events := d.read(t, secret)
	if moved.GetEntityTag() == first.GetEntityTag() || value(events[0], ics.ComponentPropertySequence) != "1" ||
		value(events[0], ics.ComponentPropertyLastModified) != d.now.Format("20060102T150405Z") || value(events[1], ics.ComponentPropertySequence) != "0" {
		t.Errorf("after a visit moved:\n%s", moved.GetCalendar())
	}
	// Back where it was is a change too.
	d.town.plans[serial1].Visits[0].VisitDate = vehiclewire.DateProto(today.AddDays(22))
	if _, events := d.read(t, secret); value(events[0], ics.ComponentPropertySequence) != "2" {
		t.Errorf("moved back: %s", value(events[0], ics.ComponentPropertySequence))
	}
}

func TestACalendarSpeaksItsPersonsLanguage(t *testing.T) {
	d := newCalendarDesk(t)
	d.town.people["people/p1"].Language = "de"
	r, events := d.read(t, d.feed(t).GetSecret())
	if got := value(events[0], ics.ComponentPropertySummary); got != "AM0147P: Engine oil and filter (auf Englisch) und 1 weitere" {
		t.Errorf("the summary is %q", got)
	}
	if !strings.Contains(value(events[0], ics.ComponentPropertyDescription), "bis 7. Juni 2026") || !bytes.Contains(r.GetCalendar(), []byte("Wartung von AM0147P")) {
		t.Errorf("got\n%s", r.GetCalendar())
	}
}

func TestBookedWorkStandsOnItsDay(t *testing.T) {
	d := newCalendarDesk(t)
	secret := d.feed(t).GetSecret()
	_, before := d.read(t, secret)
	a := booked(oil)
	if _, err := d.CreateAnswer(d.as(t, "p1"), &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial1, Answer: a}); err != nil {
		t.Fatal(err)
	}
	r, events := d.read(t, secret)
	if len(events) != 4 || value(events[0], ics.ComponentPropertyDtStart) != "20260528" || value(events[0], ics.ComponentPropertyStatus) != "CONFIRMED" ||
		value(events[0], ics.ComponentPropertySummary) != "Booked, AM0147P: Engine oil and filter" ||
		!strings.HasSuffix(value(events[0], ics.ComponentPropertyDescription), "Booked with Harbour Garage.") {
		t.Fatalf("got\n%s", r.GetCalendar())
	}
	if value(events[1], ics.ComponentPropertySummary) != "AM0147P: Axle oil" {
		t.Errorf("the rest of the visit: %s", value(events[1], ics.ComponentPropertySummary))
	}
	// When the day has passed and nothing was recorded, the plan counts again.
	d.now = now.AddDate(0, 0, 11)
	if _, events := d.read(t, secret); len(events) != len(before) {
		t.Errorf("after the day: %d events", len(events))
	}
}

func TestAnAddressIsDeadWhenItIsReplacedEndedOrTheTieEnds(t *testing.T) {
	d := newCalendarDesk(t)
	first := d.feed(t)
	d.read(t, first.GetSecret())
	second := d.feed(t)
	d.dead(t, "replaced", first.GetSecret())
	if kept, err := d.kv.Client().Get(t.Context(), kv.Prefix("calendars")+"reminder/addresses/", clientv3.WithPrefix()); err != nil || len(kept.Kvs) != 1 {
		t.Errorf("the dead address is kept: %v, %v", kept, err)
	}
	d.read(t, second.GetSecret())
	d.dead(t, "another vehicle's secret", strings.ToUpper(second.GetSecret()))
	d.dead(t, "no secret", "")
	end := &reminderv1.EndCalendarFeedRequest{Name: second.GetCalendarFeed().GetName(), RequestId: uuid.NewString()}
	if _, err := d.EndCalendarFeed(d.as(t, "p2"), end); !fault.Is(err, fault.NotFound) {
		t.Errorf("ended by somebody else: %v", err)
	}
	for range 2 {
		if _, err := d.EndCalendarFeed(d.as(t, "p1"), end); err != nil {
			t.Fatal(err)
		}
	}
	d.dead(t, "ended", second.GetSecret())
	if _, err := d.EndCalendarFeed(d.as(t, "p1"), &reminderv1.EndCalendarFeedRequest{Name: end.GetName()}); !fault.Is(err, fault.NotFound) {
		t.Errorf("ended twice: %v", err)
	}
	third := d.feed(t)
	if _, events := d.read(t, third.GetSecret()); value(events[0], ics.ComponentPropertySequence) != "0" {
		t.Errorf("a new address numbers anew: %s", value(events[0], ics.ComponentPropertySequence))
	}
	d.town.ends(serial1, "p1", today)
	d.dead(t, "sold", third.GetSecret())
	_, err := d.CreateCalendarFeed(d.staff(t), &reminderv1.CreateCalendarFeedRequest{Parent: "vehicles/" + serial1, Person: "people/p1"})
	if !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("a feed for somebody who sold it: %v", err)
	}
}

func TestASecretIsShownOnceAndNotKept(t *testing.T) {
	d := newCalendarDesk(t)
	create := &reminderv1.CreateCalendarFeedRequest{Parent: "vehicles/" + serial1, Person: "people/p1", RequestId: uuid.NewString()}
	first, err := d.CreateCalendarFeed(d.as(t, "p1"), create)
	if err != nil || len(first.GetSecret()) != 43 || first.GetAddress() != "https://care.aldermoor.example/calendar/"+first.GetSecret()+".ics" {
		t.Fatalf("got %v, %v", first, err) // 43 characters of 6 bits hold 256 bits
	}
	again, err := d.CreateCalendarFeed(d.as(t, "p1"), create)
	if err != nil || again.GetSecret() != "" || again.GetAddress() != "" || again.GetCalendarFeed().GetName() != first.GetCalendarFeed().GetName() {
		t.Errorf("asked again: %v, %v", again, err)
	}
	d.read(t, first.GetSecret())
	all, err := d.kv.Client().Get(t.Context(), "/", clientv3.WithPrefix())
	if err != nil || len(all.Kvs) < 4 {
		t.Fatal(err)
	}
	for _, e := range all.Kvs {
		if bytes.Contains(e.Key, []byte(first.GetSecret())) || bytes.Contains(e.Value, []byte(first.GetSecret())) {
			t.Errorf("the secret stands under %s", e.Key)
		}
	}
}

func TestFeedsAreListedWithTheDayTheyWereReadLast(t *testing.T) {
	d := newCalendarDesk(t)
	d.town.owner(serial1, "p2")
	d.town.vehicle(serial2)
	d.town.owner(serial2, "p1")
	secret := d.feed(t).GetSecret()
	for _, f := range [][2]string{{serial1, "p2"}, {serial2, "p1"}} {
		if _, err := d.CreateCalendarFeed(d.staff(t), &reminderv1.CreateCalendarFeedRequest{Parent: "vehicles/" + f[0], Person: "people/" + f[1]}); err != nil {
			t.Fatal(err)
		}
	}
	d.now = now.Add(26 * time.Hour)
	d.read(t, secret)
	var got []string
	r := &reminderv1.ListCalendarFeedsRequest{Parent: "vehicles/-", PageSize: 1}
	for {
		page, err := d.ListCalendarFeeds(d.staff(t), r)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range page.GetCalendarFeeds() {
			day, err := vehiclewire.Date(f.GetLastReadDate())
			if err != nil {
				t.Fatal(err)
			}
			line := f.GetName()
			if day != (vehicle.Date{}) {
				line += " " + day.String()
			}
			got = append(got, line)
		}
		if r.PageToken = page.GetNextPageToken(); r.PageToken == "" {
			break
		}
	}
	want := "vehicles/AM0093L/calendarFeeds/p1; vehicles/AM0147P/calendarFeeds/p1 2026-05-19; vehicles/AM0147P/calendarFeeds/p2"
	if strings.Join(got, "; ") != want {
		t.Errorf("got %v", got)
	}
}

// campaigns are the open campaigns of all vehicles.
type campaigns struct{ open []*bulletinv1.FollowUp }

func (c *campaigns) RecordFollowUpStep(context.Context, *bulletinv1.RecordFollowUpStepRequest, ...grpc.CallOption) (*bulletinv1.FollowUp, error) {
	return nil, errors.New("nothing is sent here")
}

func (c *campaigns) ListFollowUps(context.Context, *bulletinv1.ListFollowUpsRequest, ...grpc.CallOption) (*bulletinv1.ListFollowUpsResponse, error) {
	return &bulletinv1.ListFollowUpsResponse{FollowUps: c.open}, nil
}

func (c *campaigns) GetBulletin(context.Context, *bulletinv1.GetBulletinRequest, ...grpc.CallOption) (*bulletinv1.Bulletin, error) {
	return &bulletinv1.Bulletin{State: bulletinv1.BulletinState_BULLETIN_STATE_ISSUED, Title: "Relay arm", StopUse: true}, nil
}

// TestAnOpenCampaignStandsInTheCalendarUntilItIsDone: as one event from letter
// to letter, today or on the day that was agreed.
func TestAnOpenCampaignStandsInTheCalendarUntilItIsDone(t *testing.T) {
	d := newCalendarDesk(t)
	f := &bulletinv1.FollowUp{Name: "vehicles/" + serial1 + "/followUps/C-2026-02", Round: 1, LetterDates: []*date.Date{on(today.AddDays(-40)), on(today.AddDays(-10)), on(today.AddDays(50))}}
	c := &campaigns{open: []*bulletinv1.FollowUp{f}}
	d.Job.Bulletins = c
	secret := d.feed(t).GetSecret()
	find := func() (first *ics.VEvent, all int) {
		t.Helper()
		_, events := d.read(t, secret)
		for _, e := range events {
			if strings.Contains(value(e, ics.ComponentPropertySummary), "Relay arm") {
				first = e
			}
		}
		return first, len(events)
	}
	open, n := find()
	if open == nil || value(open, ics.ComponentPropertySummary) != "DO NOT DRIVE "+serial1+": Relay arm" || value(open, ics.ComponentPropertyDtStart) != strings.ReplaceAll(today.String(), "-", "") ||
		!strings.Contains(value(open, ics.ComponentPropertyDescription), "free of charge") {
		t.Fatalf("got %v", open)
	}
	f.LetterDates[2], f.BookedDate = on(today), on(today.AddDays(6))
	booked, _ := find()
	if booked == nil || value(booked, ics.ComponentPropertyUniqueId) != value(open, ics.ComponentPropertyUniqueId) || !strings.HasPrefix(value(booked, ics.ComponentPropertySummary), "Booked") ||
		value(booked, ics.ComponentPropertyDtStart) != strings.ReplaceAll(today.AddDays(6).String(), "-", "") {
		t.Errorf("booked: %v", booked)
	}
	c.open = nil
	if done, left := find(); done != nil || left != n-1 {
		t.Errorf("done: %v, %d events of %d", done, left, n)
	}
}
