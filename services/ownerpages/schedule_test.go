package ownerpages_test

import (
	"strings"
	"testing"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/locale"
	"halfshaft/services/ownerpages"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

func TestTheScheduleSaysWhatIsDueByWhenAndWhy(t *testing.T) {
	d, server := newDesk(t)
	d.read("2026-04-01", "12000", "km")
	d.layUpEnd = "2026-08-01"
	a := get(t, link(t, server, links.Schedule))
	for _, want := range []string{
		"AM0147P 1 piece of work is to be done now.", "The last reading that we have: 12,000 km on 1 April 2026.",
		"Laid up from 18 May 2026 to 1 August 2026.", "is a sample",
		"To be done now", "Change engine oil and filter By 10 June 2026.", "12 months since it was last done",
		"Last done on 10 June 2025; about 300 km driven since.", "Hot oil burns.",
		"Coming up", "Later 1 piece of work Check the end float of the transfer-case output bearing By 1 September 2027.", "Never mix the fluid with silicone fluid.",
		"Visits in the next two years", "10 June 2027 1 piece of work Change engine oil and filter",
		"Local law, and what a licensed mechanic decides, come before anything written here.",
	} {
		if !strings.Contains(a.say(), want) {
			t.Errorf("without %q: %s", want, a.say())
		}
	}
	if !strings.Contains(a.say(), "hands it over to a new owner by the link for that in our latest message") {
		t.Errorf("it does not say how the vehicle is handed over: %s", a.say())
	}
	// Each other page is one press away, for the same person and notice.
	for label, heading := range map[string]string{
		"Report the odometer": "What does the odometer show?", "It is booked": "When is it booked?", "It is done": "What was done?",
		"Remind me later": "When shall we remind you again?", "Get a calendar of the vehicle": "A calendar of the vehicle",
		"Stop the reminders": "Stop the service reminders?",
	} {
		if next := get(t, server.URL+a.page.press(t, label)); next.StatusCode != 200 || !strings.Contains(next.say(), heading) {
			t.Errorf("%s: got %d, %s", label, next.StatusCode, next.say())
		}
	}
	if d.count() != 0 {
		t.Errorf("%d changes", d.count())
	}
}

// translator stands for the words of the programme in another language.
type translator struct{}

func (translator) Item(language, item, field, text string) string {
	return language + " " + item + " " + field + " " + strings.ToUpper(text)
}

func (translator) Reason(habit locale.Locale, title string, reasons []vehicle.Reason, sentence string) string {
	return habit.Tag() + ": " + title + ": " + habit.Distance(vehicle.Mile) + ": " + sentence
}

func TestTheProgrammeIsSaidInTheReadersLanguageAndUnit(t *testing.T) {
	d, server := newDesk(t)
	d.person = &ownerv1.Person{Language: "de-DE", DistanceUnit: "mi"}
	d.read("2026-04-01", "12000", "km")
	server.Config.Handler = handler(t, d, func(c *ownerpages.Config) { c.Programme = translator{} })
	a := get(t, link(t, server, links.Schedule))
	for _, want := range []string{
		"de E01 title CHANGE ENGINE OIL AND FILTER Bis zum 10. Juni 2026.", "de: de E01 title CHANGE ENGINE OIL AND FILTER: 1 Meile:",
		"de E01 caution HOT OIL", "de E01 why IT WEARS.", "seitdem etwa 190 Meilen (300 km) gefahren.", // 300 km / 1.609344, to two digits
	} {
		if !strings.Contains(a.say(), want) {
			t.Errorf("without %q: %s", want, a.say())
		}
	}
	if a := get(t, link(t, server, links.Booked)); !strings.Contains(a.say(), "de B01 title CHANGE BRAKE FLUID, bis zum 20. Juni 2026") {
		t.Errorf("booked: %s", a.say())
	}
}

// As in the mail, work is due by a day or after a way, whichever comes first: 300
// km are 186.4 miles (1 mile is 1.609344 km exactly, checks.md O-1), which is said
// to two digits like all that is about so much.
func TestWorkIsDueByADayOrAfterAWay(t *testing.T) {
	for _, c := range []struct{ unit, dial, want, last string }{
		{"km", "km", "By 10 June 2026, or after about another 300 km if that comes first.", "12,000 km on"},
		{"mi", "km", "or after about another 190 miles (300 km) if that comes first.", "7,456 miles (12,000 km) on"},
		{"mi", "mi", "or after about another 190 miles if that comes first.", "12,000 miles on"},
		{"km", "mi", "or after about another 300 km (190 miles) if that comes first.", "19,312 km (12,000 miles) on"},
	} {
		d, server := newDesk(t)
		d.person.DistanceUnit, d.dialUnit = c.unit, c.dial
		d.dueAt = map[string]vehicle.Distance{"E01": 12_600 * vehicle.Kilometre, "B01": 12_300 * vehicle.Kilometre}
		d.read("2026-04-01", "12000", c.dial)
		a := get(t, link(t, server, links.Schedule))
		if !strings.Contains(a.say(), c.want) || !strings.Contains(a.say(), "The last reading that we have: "+c.last) {
			t.Errorf("%s on a dial of %s: %s", c.unit, c.dial, a.say())
		}
		// Of what is due by its way now, and of what has no way, a day alone is said.
		if strings.Count(a.say(), "if that comes first") != 1 {
			t.Errorf("%s on a dial of %s: %s", c.unit, c.dial, a.say())
		}
	}
}

// What is due by the same is said once, over the work.
func TestWorkThatIsDueByTheSameSaysSoOnce(t *testing.T) {
	d, server := newDesk(t)
	d.entries = []*schedulev1.ServiceEntry{{ServiceDate: vehiclewire.DateProto(date("2024-06-10")), Items: []*schedulev1.ItemDone{{ItemId: "B01"}}}} // due on 10 June 2026, as the oil is
	a := get(t, link(t, server, links.Schedule))
	if !strings.Contains(a.say(), "To be done now By 10 June 2026. Change engine oil and filter Change engine oil and filter is due") ||
		strings.Count(a.say(), "By 10 June 2026.") != 1 || !strings.Contains(a.say(), "Change brake fluid Change brake fluid is due") {
		t.Errorf("got %s", a.say())
	}
}
