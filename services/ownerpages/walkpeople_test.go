package ownerpages_test

import (
	"fmt"
	"testing"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/telephone"
)

// open presses what opens more of a page.
func open(p *telephone.Telephone, label string) {
	telephone.Ask[bool](p, fmt.Sprintf(`(() => { const e = [...document.querySelectorAll("summary")].find(e => e.innerText.trim().startsWith(%q)); if (!e) return false; e.click(); return e.parentElement.open })()`, label))
}

// TestAnOwnerGoesThroughTheRooms goes by the navigation from the vehicle to its
// history and to how one is written to, changes that and an address with a slip
// on the way, and makes all links dead: by day and by night, in both languages,
// without scripts and with them.
func TestAnOwnerGoesThroughTheRooms(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	for _, c := range []struct {
		scheme, language string
		scripts          bool
		words            map[string]string
	}{
		{"light", "en-GB", false, map[string]string{}},
		{"dark", "de-DE", true, map[string]string{
			"Vehicle": "Fahrzeug", "History": "Verlauf", "You": "Sie", "Save": "Speichern", "That is saved": "Das ist gespeichert",
			"Write to me first by": "Schreiben Sie mir zuerst per", "by text message": "per Textnachricht", "Yes": "Ja", "What a new owner sees": "Was ein neuer Eigentümer sieht",
			"yes to the question": "Ja zu der Frage", "Change where we write": "Ändern, wohin wir schreiben",
			"Send me the link": "Link an mich senden", "A link is on its way": "Ein Link ist zu Ihnen unterwegs", "New mail address": "Neue E-Mail-Adresse",
			"New telephone number": "Neue Telefonnummer", "Change it": "Ändern", "We have the change": "Wir haben die Änderung",
			"Has a message got": "Ist eine Nachricht in falsche", "Make all my links dead": "Alle meine Links ungültig machen", "The links are dead": "Die Links sind ungültig",
			"This link leads nowhere": "Dieser Link führt nirgendwohin",
		}},
	} {
		word := func(english string) string {
			if other := c.words[english]; other != "" {
				return other
			}
			return english
		}
		d, server := newDesk(t)
		d.known()
		d.person.Language, d.person.FullName, d.person.Email = c.language, longName, "wilhelmine-charlotte.von.oberndoerffer@sandelmuehle-an-der-oberen-hohenbruck.example"
		d.read("2026-04-01", "12000", "km")
		d.read("2026-05-01", "12300", "km")
		d.history()
		p := telephone.New(t, 320, c.scheme)
		p.Scripts(c.scripts)
		p.Name = "rooms-" + c.language
		address := link(t, server, links.Schedule)
		p.Open(address)
		p.Press(word("History"))
		p.Press("2019")
		p.Says("Harbour Road Garage", word("What a new owner sees"))
		p.Press(word("You"))
		p.Set(word("Write to me first by"), "text")
		p.Press(word("Save"))
		p.Says(word("yes to the question"))
		p.PickOf(word("by text message"), word("Yes"))
		p.Press(word("Save"))
		p.Says(word("That is saved"))
		open(p, word("Change where we write"))
		p.Press(word("Send me the link"))
		p.Says(word("A link is on its way"), "w…\u2060@sandelmuehle")
		p.Open(link(t, server, links.Move)) // which that message holds
		p.Enter(word("New telephone number"), "12")
		p.Enter(word("New mail address"), "peggy@moor.example")
		p.Press(word("Change it"))
		p.Says("+44")
		p.Enter(word("New telephone number"), "")
		p.Press(word("Change it"))
		p.Says(word("We have the change"))
		if d.person.GetEmail() != "peggy@moor.example" || d.person.GetContactWays()[0] != ownerv1.ContactWay_CONTACT_WAY_TEXT {
			t.Errorf("%s: kept %v", c.language, d.person)
		}
		p.Open(link(t, server, links.People))
		p.Says("p…\u2060@moor.example")
		open(p, word("Has a message got"))
		p.Press(word("Make all my links dead"))
		p.Says(word("The links are dead"))
		p.Open(address)
	}
}

// At every place of a page the navigation lies at the foot of a telephone, in the
// reach of the thumb, and hides nothing that has the focus.
func TestTheNavigationLiesInTheReachOfTheThumb(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	d, server := newDesk(t)
	d.history()
	p := telephone.New(t, 360, "light")
	for _, purpose := range []links.Purpose{links.Schedule, links.Odometer, links.History, links.People} {
		p.Open(link(t, server, purpose))
		for _, place := range []string{"0", "document.body.scrollHeight / 2", "document.body.scrollHeight"} {
			wrong := telephone.Ask[string](p, `(() => { scrollTo(0, `+place+`);
				const small = [...document.querySelectorAll("nav.rooms a")].filter(a => { const b = a.getBoundingClientRect(); return b.height < 44 || b.width < 24 || b.bottom > innerHeight || b.top < innerHeight - 80 });
				return small.map(a => a.innerText).join(", ") })()`)
			if wrong != "" {
				t.Errorf("%c at %s: out of reach or small: %s", purpose, place, wrong)
			}
		}
		hidden := telephone.Ask[string](p, `(() => { const bar = document.querySelector("nav.rooms");
			for (const e of document.querySelectorAll("main a, main button, main input:not([type=hidden]), main select, main textarea, main summary, footer a")) {
				if (!e.checkVisibility()) continue;
				e.focus(); e.scrollIntoView({block: "nearest"});
				if (e.getBoundingClientRect().bottom > bar.getBoundingClientRect().top) return e.outerHTML.slice(0, 80);
			} return "" })()`)
		if hidden != "" {
			t.Errorf("%c: the navigation hides %s", purpose, hidden)
		}
	}
}
