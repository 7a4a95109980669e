package ownerpages_test

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/vehicle/vehiclewire"
)

// known gives the desk's owner addresses, and a tie.
func (d *desk) known() {
	d.person = &ownerv1.Person{
		FullName: "Margaret Hale", Email: "margaret@harbour.example", Phone: "+441632960121", PostalLines: []string{"1 Invented Row", "Fictionbury"},
		Language: "en-GB", DistanceUnit: "km", TimeZone: "Europe/London", Etag: "1",
	}
	d.ties = []*ownerv1.Tie{
		{Person: "people/p0031", Role: ownerv1.Role_ROLE_CARETAKER, StartDate: vehiclewire.DateProto(date("2020-01-01")), EndDate: vehiclewire.DateProto(date("2022-03-09"))},
		{Person: "people/p0031", Role: ownerv1.Role_ROLE_OWNER, Notices: true, StartDate: vehiclewire.DateProto(date("2022-03-09"))},
	}
}

// A message may be forwarded to anybody: of its reader the page shows no more
// than its owner needs to know which address is meant.
func TestThePageOfPeopleShowsNoAddress(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	d.person.Undeliverable = []*ownerv1.Undeliverable{{Way: ownerv1.ContactWay_CONTACT_WAY_MAIL, MarkTime: timestamppb.New(now.AddDate(0, 0, -3)), Reason: "550"}}
	address := link(t, server, links.People)
	pages := []answer{get(t, address)}
	pages = append(pages, post(t, address, url.Values{"do": {"contact"}, "proof": {"+441632960999"}}), post(t, address, url.Values{"do": {"settings"}}))
	for _, a := range pages {
		for _, not := range []string{"margaret", "Hale", "960121", "Invented", "Fictionbury", "selected>United Kingdom"} {
			if strings.Contains(a.body, not) {
				t.Errorf("it says %q: %s", not, a.say())
			}
		}
	}
	for _, want := range []string{
		"By our records you have owned AM0147P since 9 March 2022. Service reminders come to you.",
		"By mail: m…\u2060@harbour.example Messages came back on 15 May 2026", "the number that ends in 21", "the postal address that we have",
	} {
		if !strings.Contains(pages[0].say(), want) {
			t.Errorf("without %q: %s", want, pages[0].say())
		}
	}
	if strings.Contains(pages[0].say(), "looked after") {
		t.Errorf("it tells of what has ended: %s", pages[0].say())
	}
	if d.count() != 0 {
		t.Errorf("%d changes", d.count())
	}
}

func TestSettingsAreKeptAndAnswersWordForWord(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	address := link(t, server, links.People)
	a := get(t, address)
	f := a.page.form(t, "Save")
	if f.Get("language") != "en" || f.Get("unit") != "km" || f.Get("way") != "mail" || f.Get("from") != "9" || f.Get("until") != "18" || f.Get("most") != "0" || f.Has("consent-mail") {
		t.Errorf("the form is not as the record: %v", f)
	}
	f.Set("language", "de")
	f.Set("unit", "mi")
	f.Set("way", "letter")
	f.Set("from", "17")
	f.Set("until", "20")
	f.Set("most", "2")
	f.Set("consent-text", "yes")
	f.Set("consent-year", "no")
	for range 2 { // a form that is sent twice is kept once
		a = post(t, address, f)
		if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "Das ist gespeichert") {
			t.Fatalf("got %d, %s", a.StatusCode, a.say())
		}
	}
	p := d.person
	ways := []ownerv1.ContactWay{ownerv1.ContactWay_CONTACT_WAY_LETTER, ownerv1.ContactWay_CONTACT_WAY_TEXT, ownerv1.ContactWay_CONTACT_WAY_MAIL}
	if p.GetLanguage() != "de" || p.GetFormatLocale() != "de-GB" || p.GetDistanceUnit() != "mi" || p.GetContactFromHour() != 17 || p.GetContactUntilHour() != 20 ||
		p.GetMostMessages() != 2 || !slices.Equal(p.GetContactWays(), ways) || p.GetEmail() != "margaret@harbour.example" || p.GetFullName() != "Margaret Hale" {
		t.Errorf("kept %v", p)
	}
	if len(d.consents) != 2 || !d.consents[0].GetGiven() || d.consents[0].GetWay() != ownerv1.ContactWay_CONTACT_WAY_TEXT || d.consents[1].GetGiven() ||
		d.consents[0].GetWording() != "May Aldermoor Works remind me by text message of the service of this vehicle? I can end that at any time by answering STOP." {
		t.Errorf("consents %v", d.consents)
	}
	if d.count() != 3 {
		t.Errorf("%d changes, want 3", d.count())
	}
	// What was answered is shown, and saving it again records nothing anew.
	f = a.page.form(t, "Speichern")
	if f.Get("consent-text") != "yes" || f.Get("consent-year") != "no" || f.Has("consent-mail") {
		t.Errorf("shown %v", f)
	}
	if post(t, address, f); len(d.consents) != 2 {
		t.Errorf("consents %v", d.consents)
	}
}

func TestAllThatIsWrongWithTheSettingsIsSaidAtOnceAndKept(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	d.person.Phone, d.person.PostalLines = "", nil
	address := link(t, server, links.People)
	f := get(t, address).page.form(t, "Save")
	f.Set("language", "xx")
	f.Set("unit", "furlong")
	f.Set("way", "text")
	f.Set("from", "20")
	f.Set("until", "8")
	f.Set("most", "many")
	f.Set("consent-mail", "perhaps")
	a := post(t, address, f)
	for _, want := range []string{
		"Please choose a language.", "Please choose miles or kilometres.", "We have no telephone number of yours.",
		"hours of which the second is later", "how many messages you want", "with yes or no",
	} {
		if !strings.Contains(a.say(), want) {
			t.Errorf("without %q: %s", want, a.say())
		}
	}
	if g := a.page.form(t, "Save"); a.StatusCode != http.StatusUnprocessableEntity || g.Get("from") != "20" || g.Get("until") != "8" || g.Get("way") != "text" {
		t.Errorf("got %d, %v", a.StatusCode, g)
	}
	if d.count() != 0 {
		t.Errorf("%d changes", d.count())
	}
}

func TestTextMessagesNeedAYes(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	address := link(t, server, links.People)
	f := get(t, address).page.form(t, "Save")
	f.Set("way", "text")
	if a := post(t, address, f); a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.say(), "For text messages we need your yes") {
		t.Errorf("got %d, %s", a.StatusCode, a.say())
	}
	f.Set("consent-text", "yes")
	if a := post(t, address, f); a.StatusCode != http.StatusOK || d.person.GetContactWays()[0] != ownerv1.ContactWay_CONTACT_WAY_TEXT {
		t.Errorf("got %d, %s", a.StatusCode, a.say())
	}
}

// Whoever else changed the record meanwhile is not overwritten.
func TestSettingsOfAnOlderPageAreNotStored(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	address := link(t, server, links.People)
	f := get(t, address).page.form(t, "Save")
	d.person.Etag, d.person.MostMessages = "2", 8
	f.Set("unit", "mi")
	a := post(t, address, f)
	if a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.say(), "was changed meanwhile") || d.person.GetDistanceUnit() != "km" {
		t.Errorf("got %d, %s", a.StatusCode, a.say())
	}
	if a = post(t, address, a.page.form(t, "Save")); a.StatusCode != http.StatusOK || d.person.GetDistanceUnit() != "mi" {
		t.Errorf("got %d, %v, %s", a.StatusCode, d.person, a.say())
	}
}

func TestAnAddressIsChangedByWhoKnowsWhatStandsInNoMessage(t *testing.T) {
	for _, c := range []struct {
		name, phone, proof string
		ok                 bool
	}{
		{"the number as it is dialled", "+441632960121", "01632 960121", true},
		{"the number with its country", "+441632960121", "+44 (0)1632 960 121", true},
		{"another number", "+441632960121", "01632 960122", false},
		{"the end that is shown", "+441632960121", "21", false},
		{"nothing", "+441632960121", "", false},
		{"the mail address, which stands in the message", "+441632960121", "margaret@harbour.example", false},
		{"the postal address where there is a number", "+441632960121", "1 Invented Row", false},
		{"the postal address where there is none", "", "1, invented row", true},
		{"another postal address", "", "2 Invented Row", false},
		{"half of it", "", "Invented Row", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, server := newDesk(t)
			d.known()
			d.person.Phone = c.phone
			address := link(t, server, links.People)
			f := get(t, address).page.form(t, "Change it")
			f.Set("proof", c.proof)
			f.Set("email", "peggy@moor.example")
			f.Set("postal", "7 Other Row\nElsewhere")
			f.Set("zone", "Europe/Berlin")
			a := post(t, address, f)
			if !c.ok {
				g := a.page.form(t, "Change it")
				if a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.say(), "That is not what we have.") || d.count() != 0 ||
					g.Get("email") != "peggy@moor.example" || g.Get("zone") != "Europe/Berlin" || !strings.Contains(g.Get("postal"), "7 Other Row") {
					t.Errorf("got %d, %d changes, %v, %s", a.StatusCode, d.count(), g, a.say())
				}
				return
			}
			p := d.person
			if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "We have the change") || p.GetEmail() != "peggy@moor.example" || p.GetPhone() != c.phone ||
				!slices.Equal(p.GetPostalLines(), []string{"7 Other Row", "Elsewhere", "GERMANY"}) || p.GetTimeZone() != "Europe/Berlin" || p.GetFormatLocale() != "en-DE" || p.GetLanguage() != "en-GB" {
				t.Errorf("got %d, %v, %s", a.StatusCode, p, a.say())
			}
		})
	}
}

func TestWhoToldNothingElseCallsToChangeAnAddress(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	d.person.Phone, d.person.PostalLines = "", nil
	address := link(t, server, links.People)
	if a := get(t, address); !strings.Contains(a.say(), "neither a telephone number nor a postal address") || strings.Contains(a.body, `name="email"`) {
		t.Errorf("got %s", a.say())
	}
	for _, proof := range []string{"", "margaret@harbour.example"} {
		if a := post(t, address, url.Values{"do": {"contact"}, "proof": {proof}, "email": {"thief@moor.example"}, "etag": {"1"}}); a.StatusCode != http.StatusUnprocessableEntity || d.count() != 0 {
			t.Errorf("got %d, %s", a.StatusCode, a.say())
		}
	}
}

func TestWhoeverGuessesTheProofWaits(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	address := link(t, server, links.People)
	try := func(proof string) answer {
		return post(t, address, url.Values{"do": {"contact"}, "proof": {proof}, "email": {"thief@moor.example"}, "etag": {"1"}}, "X-Forwarded-For", "203.0.113.9") // RFC 5737
	}
	for range 8 {
		if a := try("01632 960000"); a.StatusCode != http.StatusUnprocessableEntity {
			t.Fatalf("got %d", a.StatusCode)
		}
	}
	a := try("01632 960121")
	if a.StatusCode != http.StatusTooManyRequests || a.Header.Get("Retry-After") == "" || d.count() != 0 || a.page.form(t, "Change it").Get("email") != "thief@moor.example" {
		t.Errorf("got %d, %s", a.StatusCode, a.say())
	}
}

// A network more costs nothing: whoever has many guesses about one person, and
// it is the person who is counted too.
func TestWhoeverGuessesFromManyNetworksWaitsToo(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	address := link(t, server, links.People)
	try := func(n int, proof string) answer {
		from := fmt.Sprintf("2001:db8:%x::1", n) // RFC 3849
		return post(t, address, url.Values{"do": {"contact"}, "proof": {proof}, "email": {"thief@moor.example"}, "etag": {"1"}}, "X-Forwarded-For", from)
	}
	for n := range 10 {
		if a := try(n, "01632 960000"); a.StatusCode != http.StatusUnprocessableEntity {
			t.Fatalf("the guess %d: got %d", n+1, a.StatusCode)
		}
	}
	if a := try(99, "01632 960121"); a.StatusCode != http.StatusTooManyRequests || a.Header.Get("Retry-After") == "" || d.count() != 0 {
		t.Errorf("got %d, %d changes, %s", a.StatusCode, d.count(), a.say())
	}
	d.now = now.Add(15 * time.Minute) // as the page says
	if a := try(99, "01632 960121"); a.StatusCode != http.StatusOK || d.person.GetEmail() != "thief@moor.example" {
		t.Errorf("later: got %d, %s", a.StatusCode, a.say())
	}
}

// Whoever presses twice has given what was asked for until the first press was
// done, and sees what came of that.
func TestAFormThatChangesItsOwnProofCanBeSentTwice(t *testing.T) {
	for _, c := range []struct{ name, phone, proof, field, value string }{
		{"another number", "+441632960121", "01632 960121", "phone", "01632 960199"},
		{"another postal address", "", "1 Invented Row", "postal", "7 Other Row\nElsewhere"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, server := newDesk(t)
			d.known()
			d.person.Phone = c.phone
			address := link(t, server, links.People)
			f := get(t, address).page.form(t, "Change it")
			f.Set("proof", c.proof)
			f.Set(c.field, c.value)
			for n := range 2 {
				if a := post(t, address, f); a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "We have the change") {
					t.Errorf("the press %d: got %d, %s", n+1, a.StatusCode, a.say())
				}
			}
			if d.count() != 1 {
				t.Errorf("%d changes", d.count())
			}
			// What is new proves nothing on a page that is not old.
			f = get(t, address).page.form(t, "Change it")
			f.Set("proof", c.proof)
			f.Set("email", "thief@moor.example")
			if a := post(t, address, f); a.StatusCode != http.StatusUnprocessableEntity || d.count() != 1 {
				t.Errorf("got %d, %s", a.StatusCode, a.say())
			}
		})
	}
}

// Messages begin with the name of whom they are to.
func TestANameAboveThePostalAddressProvesNothing(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines []string
		proof string
		ok    bool
	}{
		{"the name", []string{"Margaret Hale", "1 Invented Row", "Fictionbury"}, "Margaret Hale", false},
		{"with a title", []string{"Mrs M. Hale", "1 Invented Row", "Fictionbury"}, "Mrs M Hale", false},
		{"the line below it", []string{"Margaret Hale", "1 Invented Row", "Fictionbury"}, "1 Invented Row", true},
		{"a street that is called like her", []string{"3 Hale Street", "Fictionbury"}, "3 Hale Street", true},
		{"nothing but the name", []string{"Margaret Hale"}, "Margaret Hale", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, server := newDesk(t)
			d.known()
			d.person.Phone, d.person.PostalLines = "", c.lines
			a := post(t, link(t, server, links.People), url.Values{"do": {"contact"}, "proof": {c.proof}, "email": {"peggy@moor.example"}, "etag": {"1"}})
			if c.ok != (a.StatusCode == http.StatusOK) || c.ok != (d.count() == 1) {
				t.Errorf("got %d, %d changes, %s", a.StatusCode, d.count(), a.say())
			}
		})
	}
}

// Somebody may read as one does in one country and live in another.
func TestANewPostalAddressIsInTheCountryInWhichSomebodyLives(t *testing.T) {
	for _, c := range []struct{ zone, formats, last string }{
		{"Europe/Lisbon", "", "PORTUGAL"}, {"Europe/London", "", "UNITED KINGDOM"}, {"", "", "UNITED KINGDOM"}, {"Europe/Andorra", "", "Elsewhere"},
		{"Asia/Dubai", "en-AE", "UNITED ARAB EMIRATES"}, // of a country that is not in the list
	} {
		d, server := newDesk(t)
		d.known()
		d.person.TimeZone, d.person.FormatLocale = c.zone, c.formats
		a := post(t, link(t, server, links.People), url.Values{"do": {"contact"}, "proof": {"01632 960121"}, "postal": {"7 Other Row\nElsewhere"}, "etag": {"1"}})
		if lines := d.person.GetPostalLines(); a.StatusCode != http.StatusOK || lines[len(lines)-1] != c.last {
			t.Errorf("%s: got %d, %q, %s", c.zone, a.StatusCode, lines, a.say())
		}
	}
}

func TestWhatIsWrongWithAnAddressIsSaidAtOnce(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	address := link(t, server, links.People)
	f := get(t, address).page.form(t, "Change it")
	f.Set("proof", "01632 960121")
	if a := post(t, address, f); a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.say(), "You gave nothing new.") {
		t.Errorf("got %d, %s", a.StatusCode, a.say())
	}
	f.Set("phone", "12")
	f.Set("postal", strings.Repeat("line\n", 9))
	f.Set("zone", "Mars/Base")
	a := post(t, address, f)
	for _, want := range []string{"telephone number whole", "at most six short lines", "choose your country"} {
		if !strings.Contains(a.say(), want) {
			t.Errorf("without %q: %s", want, a.say())
		}
	}
	before := proto.CloneOf(d.person)
	if d.count() != 0 || !proto.Equal(before, d.person) {
		t.Error("something was stored")
	}
}

func TestLinksInTheWrongHandsAreMadeDead(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	address := link(t, server, links.People)
	a := post(t, address, get(t, address).page.form(t, "Make all my links dead"))
	if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "The links are dead") || strings.Contains(a.body, "<nav") {
		t.Errorf("got %d, %s", a.StatusCode, a.say())
	}
	for _, purpose := range purposes {
		if a := get(t, link(t, server, purpose)); a.StatusCode != http.StatusNotFound {
			t.Errorf("%c: got %d", purpose, a.StatusCode)
		}
	}
}
