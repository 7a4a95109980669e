package reminderwire

import (
	"slices"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

const (
	byMail   = ownerv1.ContactWay_CONTACT_WAY_MAIL
	byText   = ownerv1.ContactWay_CONTACT_WAY_TEXT
	byLetter = ownerv1.ContactWay_CONTACT_WAY_LETTER
	byAll    = ownerv1.ContactWay_CONTACT_WAY_UNSPECIFIED
)

// agreed is a consent of a day of May 2026.
func agreed(day int, purpose ownerv1.Purpose, way ownerv1.ContactWay, given bool) *ownerv1.Consent {
	return &ownerv1.Consent{
		Purpose: purpose, Way: way, Given: given, ConsentTime: timestamppb.New(time.Date(2026, 5, day, 12, 0, 0, 0, time.UTC)),
	}
}

func TestAPersonIsReachedByTheWaysThatTheyMayBe(t *testing.T) {
	const service, year = ownerv1.Purpose_PURPOSE_SERVICE, ownerv1.Purpose_PURPOSE_YEAR_LETTER
	for name, c := range map[string]struct {
		person  *ownerv1.Person
		ways    []reminder.Channel
		refused bool
		yearly  bool
	}{
		"nothing chosen is mail, then a letter": {person: &ownerv1.Person{}, ways: []reminder.Channel{reminder.Mail, reminder.Letter}},
		"their own order": {
			person: &ownerv1.Person{ContactWays: []ownerv1.ContactWay{byLetter, byMail, byLetter}}, ways: []reminder.Channel{reminder.Letter, reminder.Mail},
		},
		"a text message needs consent": {
			person: &ownerv1.Person{ContactWays: []ownerv1.ContactWay{byText, byMail}}, ways: []reminder.Channel{reminder.Mail},
		},
		"with consent to texts": {
			person: &ownerv1.Person{ContactWays: []ownerv1.ContactWay{byText, byMail}, Consents: []*ownerv1.Consent{agreed(1, service, byText, true)}},
			ways:   []reminder.Channel{reminder.Text, reminder.Mail},
		},
		"with consent to every way": {
			person: &ownerv1.Person{ContactWays: []ownerv1.ContactWay{byText}, Consents: []*ownerv1.Consent{agreed(1, service, byAll, true)}},
			ways:   []reminder.Channel{reminder.Text},
		},
		"consent to another purpose is none": {
			person: &ownerv1.Person{ContactWays: []ownerv1.ContactWay{byText}, Consents: []*ownerv1.Consent{agreed(1, year, byText, true)}},
		},
		"texts refused after every way was agreed to": {
			person: &ownerv1.Person{ContactWays: []ownerv1.ContactWay{byText, byMail}, Consents: []*ownerv1.Consent{agreed(2, service, byText, false), agreed(1, service, byAll, true)}},
			ways:   []reminder.Channel{reminder.Mail},
		},
		"the word about one way counts before the word about all of the same time": {
			person: &ownerv1.Person{ContactWays: []ownerv1.ContactWay{byText, byMail}, Consents: []*ownerv1.Consent{agreed(1, service, byText, false), agreed(1, service, byAll, true)}},
			ways:   []reminder.Channel{reminder.Mail},
		},
		"everything taken back": {
			person: &ownerv1.Person{Consents: []*ownerv1.Consent{agreed(1, service, byMail, true), agreed(2, service, byAll, false)}}, refused: true,
		},
		"taken back, and mail agreed to anew": {
			person: &ownerv1.Person{Consents: []*ownerv1.Consent{agreed(3, service, byMail, true), agreed(2, service, byAll, false)}},
			ways:   []reminder.Channel{reminder.Mail},
		},
		"mail that came back": {
			person: &ownerv1.Person{Undeliverable: []*ownerv1.Undeliverable{{Way: byMail}}}, ways: []reminder.Channel{reminder.Letter},
		},
		"the year's letter agreed to": {
			person: &ownerv1.Person{Consents: []*ownerv1.Consent{agreed(1, year, byLetter, true)}}, ways: []reminder.Channel{reminder.Mail, reminder.Letter}, yearly: true,
		},
		"the year's letter taken back": {
			person: &ownerv1.Person{Consents: []*ownerv1.Consent{agreed(1, year, byAll, true), agreed(2, year, byAll, false)}}, ways: []reminder.Channel{reminder.Mail, reminder.Letter},
		},
	} {
		c.person.Email, c.person.Phone, c.person.PostalLines = "m@a.example", "+441632960983", []string{"1 Quay", "Harbour"}
		r, err := Recipient(c.person, time.LoadLocation)
		if err != nil || !slices.Equal(r.Ways, c.ways) || r.Refused != c.refused || r.Yearly != c.yearly {
			t.Errorf("%s: got %v refused %v yearly %v, %v", name, r.Ways, r.Refused, r.Yearly, err)
		}
		nowhere := &ownerv1.Person{ContactWays: c.person.ContactWays, Consents: c.person.Consents}
		if r, err := Recipient(nowhere, time.LoadLocation); err != nil || len(r.Ways) > 0 {
			t.Errorf("%s, without an address: got %v, %v", name, r.Ways, err)
		}
	}
	dead, err := Recipient(&ownerv1.Person{DeceasedDate: &date.Date{Year: 2026, Month: 5, Day: 1}}, time.LoadLocation)
	if err != nil || !dead.Deceased {
		t.Errorf("somebody who died: %+v, %v", dead, err)
	}
}

func TestAnItemIsOfAClassAndMovedByALayUp(t *testing.T) {
	layUp := func(act string) *vehiclev1.Reason {
		return &vehiclev1.Reason{Rule: "LAY_UP", Facts: []*vehiclev1.Fact{
			{Name: "lay_up_from", Value: "2026-11-01"}, {Name: "lay_up_to", Value: "2027-03-31"}, {Name: "act_by", Value: act},
		}}
	}
	started := &vehiclev1.Reason{Rule: "STARTED_BY_EVENT"}
	for name, c := range map[string]struct {
		status *schedulev1.ItemStatus
		class  reminder.Class
		moved  vehicle.Date
	}{
		"nothing said":               {status: &schedulev1.ItemStatus{}, class: reminder.Routine},
		"the bedding-in round":       {status: &schedulev1.ItemStatus{BeddingIn: true}, class: reminder.Settling},
		"what an event started":      {status: &schedulev1.ItemStatus{Reasons: []*vehiclev1.Reason{started}}, class: reminder.Settling},
		"what the programme says":    {status: &schedulev1.ItemStatus{BeddingIn: true, Item: &schedulev1.Item{ItemClass: schedulev1.ItemClass_ITEM_CLASS_SAFETY}}, class: reminder.Vital},
		"seasonal":                   {status: &schedulev1.ItemStatus{Item: &schedulev1.Item{ItemClass: schedulev1.ItemClass_ITEM_CLASS_SEASONAL}}, class: reminder.Seasonal},
		"sent to the lay-up's end":   {status: &schedulev1.ItemStatus{ActByDate: &date.Date{Year: 2027, Month: 4, Day: 1}, Reasons: []*vehiclev1.Reason{layUp("2027-04-01")}}, class: reminder.Routine, moved: vehicle.MustDate(2027, 4, 1)},
		"sent before the lay-up":     {status: &schedulev1.ItemStatus{ActByDate: &date.Date{Year: 2026, Month: 10, Day: 31}, Reasons: []*vehiclev1.Reason{layUp("2026-10-31")}}, class: reminder.Routine},
		"the lay-up's end not known": {status: &schedulev1.ItemStatus{Reasons: []*vehiclev1.Reason{{Rule: "LAY_UP"}}}, class: reminder.Routine},
	} {
		v, err := Vehicle(&schedulev1.Schedule{
			Name: "vehicles/AM0147P/schedule", Items: []*schedulev1.ItemStatus{c.status},
			LayUp: &schedulev1.LayUp{StartDate: &date.Date{Year: 2026, Month: 11, Day: 1}, EndDate: &date.Date{Year: 2027, Month: 3, Day: 31}},
		})
		if err != nil || v.Items[0].Class != c.class || v.Items[0].MovedTo != c.moved {
			t.Errorf("%s: got %s, %v, %v", name, v.Items[0].Class, v.Items[0].MovedTo, err)
		}
		if v.LayUpFrom != vehicle.MustDate(2026, 11, 1) || v.LayUpTo != vehicle.MustDate(2027, 3, 31) {
			t.Errorf("%s: laid up from %v to %v", name, v.LayUpFrom, v.LayUpTo)
		}
	}
}
