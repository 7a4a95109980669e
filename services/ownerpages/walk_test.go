package ownerpages_test

import (
	"os"
	"strings"
	"testing"
	"time"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/telephone"
)

// TestAnOwnerGoesFromTheMailToTheSilencedReminder goes the whole way on a
// telephone without scripts. HALFSHAFT_WALK names the address of a schedule
// link of a running works to walk there instead; its reader's language is
// English, and its vehicle has work coming up.
func TestAnOwnerGoesFromTheMailToTheSilencedReminder(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	p := telephone.New(t, 360, "light")
	address := os.Getenv("HALFSHAFT_WALK")
	d, server := newDesk(t)
	d.read("2026-04-01", "12000", "km")
	if address == "" {
		address = link(t, server, links.Schedule)
	}
	p.Name = "walk"

	p.Open(address)
	p.Press("Report the odometer")
	p.Enter("Odometer", "12,345")
	p.Press("Send")
	if telephone.Ask[bool](p, `document.body.innerText.includes("Is it right?")`) { // a running works may have another vehicle
		p.Press("It is right, send it")
	}
	p.Says("Thank you", "12,345")
	p.Press("See what is due")
	p.Press("It is booked")
	today, err := time.Parse(time.DateOnly, telephone.Ask[string](p, `document.getElementById("day").min`))
	if err != nil {
		t.Fatal(err)
	}
	p.Set("Day", today.AddDate(0, 0, 10).Format(time.DateOnly))
	p.Enter("Workshop, if you like", "Harbour Garage")
	p.Press("Send")
	p.Says("Thank you", "Harbour Garage", "nobody is reminded")
	p.Press("Take this back")
	p.Says("Taken back")
	p.Press("See what is due")
	p.Press("Remind me later")
	p.Pick("in 14 days")
	p.Press("Send")
	p.Says("Thank you", "we do not remind you")
	p.Press("See what is due")
	p.Press("It is done")
	for _, work := range telephone.Ask[[]string](p, `[...document.querySelectorAll("label.pick")].map(e => e.innerText.trim())`) {
		p.Pick(work)
	}
	p.Enter("Who did it, if you like", "Harbour Garage")
	p.Press("Send")
	p.Says("Thank you", "may ask you for the papers", "next by")
	p.Press("See what is due")

	if os.Getenv("HALFSHAFT_WALK") != "" {
		return
	}
	p.Says("Nothing is to be done now.")
	if len(d.entries) != 1 || len(d.entries[0].GetItems()) != 2 || len(d.answers) != 3 || len(d.readings) != 2 {
		t.Errorf("%d entries, %d answers, %d readings", len(d.entries), len(d.answers), len(d.readings))
	}
	if last := d.answers[2]; last.GetKind() != reminderv1.AnswerKind_ANSWER_KIND_DONE || last.GetServiceEntry() != d.entries[0].GetName() || d.answers[0].GetWithdrawTime() == nil {
		t.Errorf("answered %v", d.answers)
	}
}

// longName is what people are called.
const longName = "Freifrau Wilhelmine-Charlotte von Oberndörffer-Kastenbein zu Hohenbruck-Sandelmühle"

// TestEveryPageServesANarrowTelephoneByDayAndNight looks at every page in both
// languages, with long names, on the narrowest telephone that is still about
// (320 pixels: common practice, no source), and goes through the forms.
func TestEveryPageServesANarrowTelephoneByDayAndNight(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	for _, c := range []struct{ scheme, language, colour string }{
		// The colours are those of style.css: --act by day and by night.
		{"light", "de-DE", "rgb(47, 93, 58)"}, {"dark", "en-GB", "rgb(143, 194, 154)"},
	} {
		d, server := newDesk(t)
		d.person = &ownerv1.Person{Language: c.language, DistanceUnit: "mi", TimeZone: "Europe/Berlin"}
		d.read("2026-05-15", "12000", "km")
		d.layUpEnd = "2026-06-05"
		d.answers = []*reminderv1.Answer{}
		d.history()
		p := telephone.New(t, 320, c.scheme)
		p.Name = c.scheme + "-" + c.language
		before := d.count()
		for _, purpose := range purposes {
			p.Open(link(t, server, purpose))
			if lang := telephone.Ask[string](p, `document.documentElement.lang`); lang != c.language[:2] {
				t.Errorf("%c is in %s", purpose, lang)
			}
			if button := telephone.Ask[string](p, `getComputedStyle(document.querySelector("button, .press")).borderColor + getComputedStyle(document.querySelector("button") ?? document.body).backgroundColor`); !strings.Contains(button, c.colour) {
				t.Errorf("%s %c: the button is %s", c.scheme, purpose, button)
			}
		}
		p.Open(server.URL + "/take-over?language=" + c.language[:2])
		p.Open(server.URL + "/l/dead")
		if d.count() != before {
			t.Errorf("%d changes by looking", d.count()-before)
		}
		german := c.language == "de-DE"
		word := func(english, other string) string {
			if german {
				return other
			}
			return english
		}
		send := word("Send", "Absenden")
		p.Open(link(t, server, links.Odometer))
		p.Enter(word("Odometer", "Kilometerstand"), word("18.437", "18,437"))
		p.Press(send)
		p.Pick(word("18,437 km", "18.437 km"))
		p.Press(send)
		p.Says(word("Is it right?", "Stimmt es?"))
		d.state = schedulev1.ReadingState_READING_STATE_DOUBTFUL
		p.Press(word("It is right, send it", "Es stimmt, absenden"))
		p.Open(link(t, server, links.Booked))
		p.Set(word("Day", "Tag"), "2026-06-02")
		p.Enter(word("Workshop, if you like", "Werkstatt, wenn Sie mögen"), longName)
		p.Press(send)
		p.Open(link(t, server, links.Booked))
		p.Open(link(t, server, links.Transfer))
		p.Press(word("Send me the link", "Link an mich senden"))
		p.Open(link(t, server, links.GiveAway))
		p.Press(word("Make the code", "Den Code erstellen"))
		p.Open(link(t, server, links.Calendar))
		p.Press(word("Make the address", "Die Adresse erstellen"))
		p.Open(link(t, server, links.Unsubscribe))
		p.Press(word("Stop the reminders", "Erinnerungen beenden"))
		p.Open(server.URL + "/take-over?language=" + c.language[:2])
		p.Enter(word("Serial of the vehicle", "Seriennummer des Fahrzeugs"), "AM 0147 P")
		p.Enter("Code", "wrong")
		p.Enter(word("Your name", "Ihr Name"), longName)
		p.Set(word("Country", "Land"), "Europe/Berlin")
		p.PickOf(word("by mail", "per E-Mail"), word("No", "Nein"))
		p.PickOf(word("by text message", "per Textnachricht"), word("No", "Nein"))
		p.PickOf(word("at the end of each year", "am Ende jedes Jahres"), word("No", "Nein"))
		p.Press(word("Take it over", "Übernehmen"))
		p.Enter("Code", "7Q4K-M2XW-9TRC")
		p.Press(word("Take it over", "Übernehmen"))
		p.Says(word("Welcome", "Willkommen"))
	}
}

// TestTheBrowsersOwnChecksGoWithTheForms shows what no request by hand does.
func TestTheBrowsersOwnChecksGoWithTheForms(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	d, server := newDesk(t)
	p := telephone.New(t, 360, "light")
	p.Open(link(t, server, links.Booked))
	if telephone.Ask[bool](p, `document.querySelector("form").checkValidity()`) {
		t.Error("a booking without a day passes")
	}
	p.Set("Day", "2026-05-17")
	if telephone.Ask[bool](p, `document.querySelector("form").checkValidity()`) {
		t.Error("a booking for yesterday passes")
	}
	p.Set("Day", "2026-05-18")
	if !telephone.Ask[bool](p, `document.querySelector("form").checkValidity()`) || d.count() != 0 {
		t.Error("a booking for today does not pass")
	}
}
