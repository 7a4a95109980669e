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
)

// TestAnOwnerGoesFromTheMailToTheSilencedReminder goes the whole way on a
// telephone without scripts. HALFSHAFT_WALK names the address of a schedule
// link of a running works to walk there instead; its reader's language is
// English, and its vehicle has work coming up.
func TestAnOwnerGoesFromTheMailToTheSilencedReminder(t *testing.T) {
	p := newTelephone(t, 360, "light")
	address := os.Getenv("HALFSHAFT_WALK")
	d, server := newDesk(t)
	d.read("2026-04-01", "12000", "km")
	if address == "" {
		address = link(t, server, links.Schedule)
	}
	p.name = "walk"

	p.open(address)
	p.press("Report the odometer")
	p.enter("Odometer", "12,345")
	p.press("Send")
	if ask[bool](p, `document.body.innerText.includes("Is it right?")`) { // a running works may have another vehicle
		p.press("It is right, send it")
	}
	p.says("Thank you", "12,345")
	p.press("See what is due")
	p.press("It is booked")
	today, err := time.Parse(time.DateOnly, ask[string](p, `document.getElementById("day").min`))
	if err != nil {
		t.Fatal(err)
	}
	p.set("Day", today.AddDate(0, 0, 10).Format(time.DateOnly))
	p.enter("Workshop, if you like", "Harbour Garage")
	p.press("Send")
	p.says("Thank you", "Harbour Garage", "nobody is reminded")
	p.press("Take this back")
	p.says("Taken back")
	p.press("See what is due")
	p.press("Not now, later")
	p.pick("in 14 days")
	p.press("Send")
	p.says("Thank you", "we do not remind you")
	p.press("See what is due")
	p.press("It is done")
	p.enter("Who did it, if you like", "Harbour Garage")
	p.press("Send")
	p.says("Thank you", "may ask you for the papers", "next by")
	p.press("See what is due")

	if os.Getenv("HALFSHAFT_WALK") != "" {
		return
	}
	p.says("Nothing is to be done now.")
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
	for _, c := range []struct{ scheme, language, colour string }{
		// The colours are those of style.css: --act by day and by night.
		{"light", "de-DE", "rgb(47, 93, 58)"}, {"dark", "en-GB", "rgb(143, 194, 154)"},
	} {
		d, server := newDesk(t)
		d.person = &ownerv1.Person{Language: c.language, DistanceUnit: "mi", TimeZone: "Europe/Berlin"}
		d.read("2026-05-15", "12000", "km")
		d.layUpEnd = "2026-06-05"
		d.answers = []*reminderv1.Answer{}
		p := newTelephone(t, 320, c.scheme)
		p.name = c.scheme + "-" + c.language
		before := d.count()
		for _, purpose := range purposes {
			p.open(link(t, server, purpose))
			if lang := ask[string](p, `document.documentElement.lang`); lang != c.language[:2] {
				t.Errorf("%c is in %s", purpose, lang)
			}
			if button := ask[string](p, `getComputedStyle(document.querySelector("button, .press")).borderColor + getComputedStyle(document.querySelector("button") ?? document.body).backgroundColor`); !strings.Contains(button, c.colour) {
				t.Errorf("%s %c: the button is %s", c.scheme, purpose, button)
			}
		}
		p.open(server.URL + "/take-over?language=" + c.language[:2])
		p.open(server.URL + "/l/dead")
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
		p.open(link(t, server, links.Odometer))
		p.enter(word("Odometer", "Zählerstand"), word("18.437", "18,437"))
		p.press(send)
		p.pick(word("18,437 km", "18.437 km"))
		p.press(send)
		p.says(word("Is it right?", "Stimmt es?"))
		d.state = schedulev1.ReadingState_READING_STATE_DOUBTFUL
		p.press(word("It is right, send it", "Es stimmt, absenden"))
		p.open(link(t, server, links.Booked))
		p.set(word("Day", "Tag"), "2026-06-02")
		p.enter(word("Workshop, if you like", "Werkstatt, wenn Sie mögen"), longName)
		p.press(send)
		p.open(link(t, server, links.Booked))
		p.open(link(t, server, links.Transfer))
		p.press(word("Make the code", "Den Code machen"))
		p.open(link(t, server, links.Calendar))
		p.press(word("Make the address", "Die Adresse machen"))
		p.open(link(t, server, links.Unsubscribe))
		p.press(word("Stop the reminders", "Erinnerungen beenden"))
		p.open(server.URL + "/take-over?language=" + c.language[:2])
		p.enter(word("Serial of the vehicle", "Seriennummer des Fahrzeugs"), "AM 0147 P")
		p.enter("Code", "wrong")
		p.enter(word("Your name", "Ihr Name"), longName)
		p.set(word("Country", "Land"), "Europe/Berlin")
		p.pickOf(word("by mail", "per Mail"), word("No", "Nein"))
		p.pickOf(word("by text message", "per Textnachricht"), word("No", "Nein"))
		p.pickOf(word("at the end of each year", "am Ende jedes Jahres"), word("No", "Nein"))
		p.press(word("Take it over", "Übernehmen"))
		p.enter("Code", "7Q4K-M2XW-9TRC")
		p.press(word("Take it over", "Übernehmen"))
		p.says(word("Welcome", "Willkommen"))
	}
}

// TestTheBrowsersOwnChecksGoWithTheForms shows what no request by hand does.
func TestTheBrowsersOwnChecksGoWithTheForms(t *testing.T) {
	d, server := newDesk(t)
	p := newTelephone(t, 360, "light")
	p.open(link(t, server, links.Booked))
	if ask[bool](p, `document.querySelector("form").checkValidity()`) {
		t.Error("a booking without a day passes")
	}
	p.set("Day", "2026-05-17")
	if ask[bool](p, `document.querySelector("form").checkValidity()`) {
		t.Error("a booking for yesterday passes")
	}
	p.set("Day", "2026-05-18")
	if !ask[bool](p, `document.querySelector("form").checkValidity()`) || d.count() != 0 {
		t.Error("a booking for today does not pass")
	}
}
