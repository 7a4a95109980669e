package reminderwire

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/genproto/googleapis/type/date"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

func dates(days ...string) []*date.Date {
	var out []*date.Date
	for _, d := range days {
		day, err := vehicle.ParseDate(d)
		if err != nil {
			panic(err)
		}
		out = append(out, vehiclewire.DateProto(day))
	}
	return out
}

func TestACampaignIsReadAsTheLetterOfTheDay(t *testing.T) {
	step := func(kind bulletinv1.FollowUpStepKind, on string) *bulletinv1.FollowUpStep {
		return &bulletinv1.FollowUpStep{Kind: kind, StepDate: dates(on)[0]}
	}
	const (
		notified = bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_NOTIFIED
		wrong    = bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_FOUND_WRONG
		newer    = bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_NEW_VERSION
		written  = bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_WRITTEN
		done     = bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE
	)
	three := dates("2027-03-01", "2027-03-31", "2027-05-30")
	for _, c := range []struct {
		name   string
		f      *bulletinv1.FollowUp
		on     string
		cycle  string // "" for no letter
		actBy  string
		change func(*reminder.Campaign)
	}{
		{"before the first, it is the first", &bulletinv1.FollowUp{LetterDates: three[:1]}, "2027-02-01", "C-2026-02.1", "2027-03-01", nil},
		{"on the day of the first", &bulletinv1.FollowUp{LetterDates: three[:2]}, "2027-03-01", "C-2026-02.1", "2027-03-01", func(c *reminder.Campaign) { c.Next = vehicle.MustDate(2027, 3, 31) }},
		{"on the day of the second", &bulletinv1.FollowUp{LetterDates: three}, "2027-03-31", "C-2026-02.1-2", "2027-03-31", func(c *reminder.Campaign) { c.Letter, c.Next = 2, vehicle.MustDate(2027, 5, 30) }},
		{"after the last", &bulletinv1.FollowUp{LetterDates: three}, "2030-03-31", "C-2026-02.1-3", "2027-05-30", func(c *reminder.Campaign) { c.Letter = 3 }},
		{"who refused has the letters that repeat alone", &bulletinv1.FollowUp{
			LetterDates: dates("2028-05-30", "2029-05-30", "2030-05-30"), Letter: &bulletinv1.FollowUpLetter{Number: 5, LetterDate: dates("2029-05-30")[0]},
		}, "2029-06-01", "C-2026-02.1-5", "2029-05-30", func(c *reminder.Campaign) { c.Letter, c.Next = 5, vehicle.MustDate(2030, 5, 30) }},
		{"with no letters any more", &bulletinv1.FollowUp{}, "2027-03-31", "", "", nil},
		{"booked and told on the telephone", &bulletinv1.FollowUp{
			LetterDates: three[:1], BookedDate: dates("2027-03-20")[0], Steps: []*bulletinv1.FollowUpStep{step(notified, "2027-03-05"), step(notified, "2027-03-04")},
		}, "2027-03-06", "C-2026-02.1", "2027-03-01", func(c *reminder.Campaign) {
			c.Booked, c.Notified = vehicle.MustDate(2027, 3, 20), vehicle.MustDate(2027, 3, 5)
		}},
		{"found wrong", &bulletinv1.FollowUp{LetterDates: three[:1], Steps: []*bulletinv1.FollowUpStep{step(done, "2027-02-01"), step(wrong, "2027-03-01")}},
			"2027-03-01", "C-2026-02.1", "2027-03-01", func(c *reminder.Campaign) { c.Wrong = true }},
		{"a new version on the day on which its owner was told of the one before", &bulletinv1.FollowUp{
			LetterDates: three[:1], Steps: []*bulletinv1.FollowUpStep{step(notified, "2027-03-01"), step(newer, "2027-03-01")},
		}, "2027-03-01", "C-2026-02.1", "2027-03-01", func(c *reminder.Campaign) { c.Changed = true }},
		{"a letter that went out moves nothing", &bulletinv1.FollowUp{LetterDates: three[:1], Steps: []*bulletinv1.FollowUpStep{step(written, "2027-03-01")}},
			"2027-03-01", "C-2026-02.1", "2027-03-01", nil},
		{"found wrong and mended", &bulletinv1.FollowUp{LetterDates: three[:1], Steps: []*bulletinv1.FollowUpStep{step(wrong, "2027-02-01"), step(done, "2027-03-01")}},
			"2027-03-01", "C-2026-02.1", "2027-03-01", nil},
	} {
		c.f.Name, c.f.Round, c.f.EnterDate = "vehicles/AM0147P/followUps/C-2026-02", 1, dates("2027-03-01")[0]
		day, err := vehicle.ParseDate(c.on)
		if err != nil {
			t.Fatal(err)
		}
		got, open, err := Campaign(c.f, &bulletinv1.Bulletin{
			Title: "Relay arm", Fault: "f", Consequence: "c", Meanwhile: "m", Caution: "hurts", StopUse: true, Sample: true,
			Remedy: []*bulletinv1.RemedyItem{{Title: "Renew it", Caution: "heavy", Minutes: 90, Tools: []string{"a lamp"}, Parts: []*bulletinv1.RemedyPart{{Position: "relay", Part: "AP-1", Quantity: 2}}}},
		}, day)
		if err != nil || open != (c.cycle != "") {
			t.Errorf("%s: open %v, %v", c.name, open, err)
		}
		if c.cycle == "" {
			continue
		}
		want := reminder.Campaign{
			Round: 1, Letter: 1, StopUse: true, Sample: true, Fault: "f", Consequence: "c", Meanwhile: "m",
			Remedy: []reminder.Remedy{{Title: "Renew it", Caution: "heavy", Minutes: 90, Tools: []string{"a lamp"}, Parts: []reminder.RemedyPart{{Position: "relay", Number: "AP-1", Quantity: 2}}}},
		}
		if c.change != nil {
			c.change(&want)
		}
		if diff := cmp.Diff(want, *got.Campaign); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
		if got.Cycle != c.cycle || got.ActBy.String() != c.actBy || got.ID != "C-2026-02" || got.Title != "Relay arm" || got.Caution != "hurts" || got.Purpose() != reminder.Safety {
			t.Errorf("%s: got %+v", c.name, got)
		}
	}
}

func TestAFollowUpThatCannotBeReadSaysWhy(t *testing.T) {
	for name, f := range map[string]*bulletinv1.FollowUp{
		"letter_dates": {Name: "vehicles/AM0147P/followUps/C-1", Round: 1, LetterDates: []*date.Date{{Year: 2027, Month: 13, Day: 1}}},
		"booked_date":  {Name: "vehicles/AM0147P/followUps/C-1", Round: 1, LetterDates: dates("2027-01-01"), BookedDate: &date.Date{Year: 2027}},
		"round":        {Name: "vehicles/AM0147P/followUps/C-1", LetterDates: dates("2027-01-01")},
		"name":         {Name: "vehicles/AM0147P/followUps/C.1", Round: 1},
	} {
		if _, _, err := Campaign(f, &bulletinv1.Bulletin{}, vehicle.MustDate(2027, 1, 1)); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestNobodysConsentIsAskedForSafety: their own ways first, then whatever else
// has an address that is not dead.
func TestNobodysConsentIsAskedForSafety(t *testing.T) {
	const byMail, byText, byLetter = ownerv1.ContactWay_CONTACT_WAY_MAIL, ownerv1.ContactWay_CONTACT_WAY_TEXT, ownerv1.ContactWay_CONTACT_WAY_LETTER
	for _, c := range []struct {
		name string
		p    *ownerv1.Person
		want []reminder.Channel
	}{
		{"nothing chosen", &ownerv1.Person{Email: "m@a.example", Phone: "+447700900001", PostalLines: []string{"1 Quay"}}, []reminder.Channel{reminder.Mail, reminder.Letter, reminder.Text}},
		{"a text message chosen", &ownerv1.Person{Email: "m@a.example", Phone: "+447700900001", ContactWays: []ownerv1.ContactWay{byText}}, []reminder.Channel{reminder.Text, reminder.Mail}},
		{"everything refused", &ownerv1.Person{Email: "m@a.example", Consents: []*ownerv1.Consent{{Purpose: ownerv1.Purpose_PURPOSE_SERVICE}}}, []reminder.Channel{reminder.Mail}},
		{"a dead address", &ownerv1.Person{Email: "m@a.example", PostalLines: []string{"1 Quay"}, Undeliverable: []*ownerv1.Undeliverable{{Way: byMail}}}, []reminder.Channel{reminder.Letter}},
		{"no address", &ownerv1.Person{ContactWays: []ownerv1.ContactWay{byLetter}}, nil},
	} {
		if r, err := Recipient(c.p, time.LoadLocation); err != nil || !slices.Equal(r.Safety, c.want) {
			t.Errorf("%s: got %v, %v, want %v", c.name, r.Safety, err, c.want)
		}
	}
}
