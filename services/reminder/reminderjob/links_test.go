package reminderjob

import (
	"regexp"
	"testing"
	"time"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
)

// TestEveryLinkLetsOneThingBeDoneForItsTime makes the links of a draft for an
// owner and for somebody else, after their links were withdrawn once.
func TestEveryLinkLetsOneThingBeDoneForItsTime(t *testing.T) {
	o := newOffice(t)
	if _, err := o.Store.RaiseEpoch(t.Context(), reminderstore.Request{ID: uuid.NewString(), Payload: &reminderv1.WithdrawLinksRequest{}}, "p1"); err != nil {
		t.Fatal(err)
	}
	draft := func(role string, p reminder.Purpose, reading bool) reminder.Draft {
		return reminder.Draft{
			Vehicle: reminder.Vehicle{Serial: serial(1)}, To: reminder.Recipient{Person: "p1", Role: role}, Purpose: p, Channel: reminder.Mail,
			Stage: reminder.Due, Lines: []reminder.Line{{Item: reminder.Item{ID: "E01", Cycle: "E01.2025-05-01", Reading: reading}}},
		}
	}
	const day = 24 * time.Hour
	for name, c := range map[string]struct {
		draft reminder.Draft
		want  map[links.Purpose]time.Duration
	}{
		"an owner's notice": {draft("owner", reminder.Service, false), map[links.Purpose]time.Duration{
			links.Schedule: 120 * day, links.Odometer: 120 * day, links.Calendar: 120 * day, links.Booked: 120 * day, links.Snooze: 120 * day,
			links.Done: 120 * day, links.Transfer: 30 * day, links.Unsubscribe: 730 * day,
		}},
		"a caretaker's notice": {draft("caretaker", reminder.Service, false), map[links.Purpose]time.Duration{
			links.Schedule: 120 * day, links.Odometer: 120 * day, links.Calendar: 120 * day, links.Booked: 120 * day, links.Snooze: 120 * day,
			links.Done: 120 * day, links.Unsubscribe: 730 * day,
		}},
		"a request for a reading": {draft("owner", reminder.Service, true), map[links.Purpose]time.Duration{
			links.Schedule: 120 * day, links.Odometer: 120 * day, links.Calendar: 120 * day, links.Snooze: 120 * day, links.Transfer: 30 * day, links.Unsubscribe: 730 * day,
		}},
		"the letter of the year": {draft("caretaker", reminder.YearLetter, false), map[links.Purpose]time.Duration{
			links.Schedule: 120 * day, links.Odometer: 120 * day, links.Calendar: 120 * day, links.StopYearLetter: 730 * day,
		}},
		// By the owner's records whoever pays reads and reports nothing, so that the
		// pages would refuse them.
		"a payer's notice":   {draft("payer", reminder.Service, false), map[links.Purpose]time.Duration{links.Unsubscribe: 730 * day}},
		"a payer's letter":   {draft("payer", reminder.YearLetter, false), map[links.Purpose]time.Duration{links.StopYearLetter: 730 * day}},
		"a payer's campaign": {draft("payer", reminder.Safety, false), nil},
		"a campaign": {draft("caretaker", reminder.Safety, false), map[links.Purpose]time.Duration{
			links.Schedule: 120 * day, links.Odometer: 120 * day, links.Calendar: 120 * day,
		}},
	} {
		id := c.draft.NoticeID(1)
		all, err := o.signed(c.draft, id, noon)
		if err != nil {
			t.Fatal(err)
		}
		got := map[links.Purpose]bool{}
		for _, address := range []string{all.Schedule, all.Odometer, all.Booked, all.Snooze, all.Done, all.Stop, all.Transfer, all.Calendar} {
			if address == "" {
				continue
			}
			token := regexp.MustCompile(`^https://owners\.aldermoor\.example/l/([A-Za-z0-9_-]+)$`).FindStringSubmatch(address)
			if token == nil {
				t.Fatalf("%s: %s", name, address)
			}
			link, err := o.Links.Read(token[1], noon)
			target, ok := link.Target()
			if err != nil || !ok || target != (links.Target{Serial: string(serial(1)), Person: "p1", Epoch: 1, Notice: id[len(serial(1))+1:]}) {
				t.Errorf("%s: %+v, %v", name, target, err)
			}
			if lasts, wanted := c.want[link.Purpose]; !wanted || link.Expires.Sub(noon) != lasts {
				t.Errorf("%s: a link of purpose %c lasts %v", name, link.Purpose, link.Expires.Sub(noon))
			}
			got[link.Purpose] = true
		}
		if len(got) != len(c.want) {
			t.Errorf("%s: links %v, want %v", name, got, c.want)
		}
	}
}
