package works_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/telephone"
)

// dueBy is when an item is due by the page of the vehicle, whether it stands there
// by itself, with others that are due by the same, or is opened by a press.
func (k *clicked) dueBy(title string) string {
	k.t.Helper()
	said := telephone.Ask[string](k.Telephone, fmt.Sprintf(`(() => {
		const at = [...document.querySelectorAll("h3, h4, summary strong")].find(e => e.textContent.trim() == %q);
		return at ? (at.closest(".due")?.querySelector("h3") ?? at.closest("summary") ?? at.nextElementSibling).textContent.replace(%q, "").trim() : "" })()`, title, title))
	if !strings.HasPrefix(said, "By ") {
		k.t.Fatalf("%s: got %q, want a day", title, said)
	}
	return strings.TrimPrefix(said, "By ")
}

// TestAnOwnerReportsTheOdometerFromTheMailAndSeesTheScheduleMove goes from the
// mail that asks for a reading to the odometer and by the navigation to the
// vehicle: once with no scripts, as all of it is meant to work, and once with.
func TestAnOwnerReportsTheOdometerFromTheMailAndSeesTheScheduleMove(t *testing.T) {
	racetest.Skip(t, "one owner clicks, and passes follow each other")
	k := newClicked(t, "AM0150Z")
	const title = "Engine oil and filter"
	k.clock.Set(time.Date(2026, time.May, 18, 16, 0, 0, 0, time.UTC)) // noon where the owner lives
	pass(t, k.ctx, k.c)
	mail := k.mailTo("edwin.harrowgate@moor.example", 1)
	for _, c := range []struct {
		scripts      bool
		day, reading string
	}{{false, "2026-05-18", "14,100"}, {true, "2026-06-15", "14,700"}} {
		on, err := time.Parse(time.DateOnly, c.day)
		if err != nil {
			t.Fatal(err)
		}
		k.clock.Set(on.Add(18 * time.Hour))
		k.Scripts(c.scripts)
		k.follow(mail, "Report the odometer")
		k.Press("Vehicle")
		k.Says("Packhorse AM0150Z", title)
		before := k.dueBy(title)
		k.Press("Odometer")
		k.Enter("Odometer", c.reading)
		k.Press("Send")
		k.Says("Thank you", "We have "+c.reading+" miles for AM0150Z", "These days have changed:", title+": now due by ")
		k.Press("Vehicle")
		after := k.dueBy(title)
		if after == before {
			t.Errorf("scripts %v: the oil is due by %s as before", c.scripts, after)
		}
		k.Says("The last reading that we have: " + c.reading + " miles on")
		t.Logf("scripts %v: %s, then %s", c.scripts, before, after)
	}
}

// TestAnOwnerChangesFromTheMailHowTheyAreWrittenTo changes the language, the unit
// and the address, and finds the next mail so.
func TestAnOwnerChangesFromTheMailHowTheyAreWrittenTo(t *testing.T) {
	racetest.Skip(t, "one owner clicks, and passes follow each other")
	k := newClicked(t, "AM01082")
	k.until("2026-05-18")
	k.follow(k.mailTo("silas.harrowgate@moor.example", 1), "See the whole schedule")
	k.Press("History")
	k.Says("What was done on AM01082", "since it was handed over on")
	k.Press("You")
	k.Says("By mail: s…\u2060@moor.example", "the number that ends in 07", "you have owned AM01082 since 12 December 2012")
	k.Set("Language of our messages", "de")
	k.Set("Distances in", "km")
	k.PickOf("at the end of each year", "No")
	k.Press("Save")
	k.Says("Das ist gespeichert")
	telephone.Ask[bool](k.Telephone, `(document.querySelector("main summary").click(), true)`)
	k.Press("Link an mich senden")
	k.Says("Ein Link ist zu Ihnen unterwegs")
	k.until("2026-05-18") // it went out as soon as it was asked for, or goes with this pass
	k.follow(k.mailTo("silas.harrowgate@moor.example", 2), "Meine Adressen ändern")
	k.Enter("Neue E-Mail-Adresse", "silas@seaside.example")
	k.Press("Ändern")
	k.Says("Wir haben die Änderung")
	p, err := k.c.Owners.GetPerson(k.ctx, &ownerv1.GetPersonRequest{Name: "people/p0008"})
	if err != nil || p.GetLanguage() != "de" || p.GetFormatLocale() != "de-GB" || p.GetDistanceUnit() != "km" || p.GetEmail() != "silas@seaside.example" ||
		p.GetFullName() != "Silas Harrowgate" || p.GetPhone() != "+441632960107" || len(p.GetPostalLines()) == 0 {
		t.Errorf("kept %v, %v", p, err)
	}
	consents, err := k.c.Owners.ListConsents(k.ctx, &ownerv1.ListConsentsRequest{Parent: "people/p0008"})
	if err != nil {
		t.Fatal(err)
	}
	if all := consents.GetConsents(); len(all) == 0 || all[len(all)-1].GetGiven() || all[len(all)-1].GetPurpose() != ownerv1.Purpose_PURPOSE_YEAR_LETTER || all[len(all)-1].GetSource() != ownerv1.ConsentSource_CONSENT_SOURCE_PAGE {
		t.Errorf("consents %v", all)
	}
	again := k.until("2026-07-20")
	if len(again) == 0 {
		t.Fatal("nobody was told again")
	}
	if next := wordsOf(hypertext(t, k.mailTo("silas@seaside.example", len(again)))); !strings.Contains(next, "überfällig") {
		t.Errorf("the next mail says %s", next)
	}
	if told := wordsOf(hypertext(t, k.mailTo("silas.harrowgate@moor.example", 3))); !strings.Contains(told, "wurde bei uns ersetzt") || strings.Contains(told, "seaside") {
		t.Errorf("the address that was replaced is told %s", told)
	}
}
