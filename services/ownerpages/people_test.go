package ownerpages_test

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
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
	if d.count() != 1 { // the link that was asked for
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

// A forwarded message opens the page, and the page changes no address: it has a
// link sent to the one on record.
func TestAnAddressIsChangedByALinkThatIsSentToTheOneOnRecord(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	forwarded := link(t, server, links.People)
	a := get(t, forwarded)
	if strings.Contains(a.body, `name="email"`) || strings.Contains(a.body, `name="phone"`) {
		t.Errorf("the page itself asks for addresses: %s", a.say())
	}
	a = post(t, forwarded, a.page.form(t, "Send me the link"))
	if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "m…\u2060@harbour.example") || strings.Contains(a.body, "/l/") && strings.Contains(a.body, "Change it") || len(d.confirmed) != 1 || d.confirmed[0] != reminderv1.ConfirmationMatter_CONFIRMATION_MATTER_CONTACT {
		t.Errorf("got %d, %v, %s", a.StatusCode, d.confirmed, a.say())
	}
	for _, do := range []url.Values{{"do": {"contact"}, "email": {"thief@moor.example"}, "etag": {"1"}}, {"do": {"move"}, "email": {"thief@moor.example"}, "etag": {"1"}}} {
		if post(t, forwarded, do); d.person.GetEmail() != "margaret@harbour.example" {
			t.Fatalf("a forwarded message changed an address: %v", d.person)
		}
	}
	both := get(t, forwarded).page
	if both.form(t, "Send me the link").Get("request") == both.form(t, "Make all my links dead").Get("request") {
		t.Error("two buttons have one request: the second of them is refused")
	}
	address := link(t, server, links.Move)
	f := get(t, address).page.form(t, "Change it")
	f.Set("email", "peggy@moor.example")
	f.Set("postal", "7 Other Row\nElsewhere")
	f.Set("zone", "Europe/Berlin")
	for n := range 2 { // whoever presses twice sees what came of the first
		a := post(t, address, f)
		p := d.person
		if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "We have the change") || p.GetEmail() != "peggy@moor.example" || p.GetPhone() != "+441632960121" ||
			!slices.Equal(p.GetPostalLines(), []string{"7 Other Row", "Elsewhere", "GERMANY"}) || p.GetTimeZone() != "Europe/Berlin" || p.GetFormatLocale() != "en-DE" || p.GetLanguage() != "en-GB" {
			t.Errorf("the press %d: got %d, %v, %s", n+1, a.StatusCode, p, a.say())
		}
	}
	// A link that went to the address of before proves nothing: its page says so, and a
	// form that is made up changes nothing. The one that changed it is answered as before.
	made := url.Values{"email": {"thief@moor.example"}, "etag": {d.person.GetEtag()}}
	d.replaced = true
	for _, a := range []answer{get(t, address), post(t, address, made), post(t, link(t, server, links.Move), made), get(t, link(t, server, links.GiveAway)), post(t, link(t, server, links.GiveAway), url.Values{})} {
		if a.StatusCode != http.StatusGone || !strings.Contains(a.say(), "This link works no more") || d.person.GetEmail() != "peggy@moor.example" || len(d.offers) != 0 {
			t.Errorf("after the address was replaced: got %d, %v, %s", a.StatusCode, d.person, a.say())
		}
	}
	if a := post(t, address, f); a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "We have the change") {
		t.Errorf("the form that replaced it, sent again: got %d, %s", a.StatusCode, a.say())
	}
	// The link works once: whoever finds it later changes nothing by it.
	d.replaced = false
	f = get(t, address).page.form(t, "Change it")
	f.Set("email", "thief@moor.example")
	if a := post(t, address, f); a.StatusCode != http.StatusGone || !strings.Contains(a.say(), "This link was used") || d.person.GetEmail() != "peggy@moor.example" {
		t.Errorf("used again: got %d, %v, %s", a.StatusCode, d.person, a.say())
	}
}

func TestAForwardedMessageGivesNoVehicleAway(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	forwarded := link(t, server, links.Transfer)
	a := post(t, forwarded, get(t, forwarded).page.form(t, "Send me the link"))
	if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "A link is on its way to you") || len(d.offers) != 0 || strings.Contains(a.body, d.code) || len(d.confirmed) != 1 {
		t.Errorf("got %d, %v, %s", a.StatusCode, d.offers, a.say())
	}
}

func TestTheLinkThatConfirmsGoesByTextWhereThereIsNoMailAddress(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	d.person.Email = ""
	forwarded := link(t, server, links.Transfer)
	if a := post(t, forwarded, get(t, forwarded).page.form(t, "Send me the link")); a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "a text message to the number that we have of you, which ends in 21") {
		t.Errorf("got %d, %s", a.StatusCode, a.say())
	}
	d.refuse = status.Error(codes.FailedPrecondition, "nowhere to send it")
	if a := post(t, forwarded, get(t, forwarded).page.form(t, "Send me the link")); a.StatusCode != http.StatusConflict || !strings.Contains(a.say(), "Please call us") {
		t.Errorf("with no way: got %d, %s", a.StatusCode, a.say())
	}
}

// Nobody's mailbox is filled, from however many networks somebody asks.
func TestLinksAreSentToNobodyWithoutEnd(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	address := link(t, server, links.People)
	try := func(n int) answer {
		return post(t, address, url.Values{"do": {"contact"}, "request": {uuid.NewString()}}, "X-Forwarded-For", fmt.Sprintf("2001:db8:%x::1", n)) // RFC 3849
	}
	for n := range 3 {
		if a := try(n); a.StatusCode != http.StatusOK {
			t.Fatalf("the link %d: got %d", n+1, a.StatusCode)
		}
	}
	if a := try(99); a.StatusCode != http.StatusTooManyRequests || a.Header.Get("Retry-After") == "" || len(d.confirmed) != 3 {
		t.Errorf("got %d, %d links, %s", a.StatusCode, len(d.confirmed), a.say())
	}
	transfer := link(t, server, links.Transfer) // whoever asked for the others in their name keeps nobody from this
	if a := post(t, transfer, get(t, transfer).page.form(t, "Send me the link")); a.StatusCode != http.StatusOK {
		t.Errorf("another kind: got %d, %s", a.StatusCode, a.say())
	}
	d.now = now.Add(15 * time.Minute) // as the page says
	if a := try(99); a.StatusCode != http.StatusOK {
		t.Errorf("later: got %d, %s", a.StatusCode, a.say())
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
		a := post(t, link(t, server, links.Move), url.Values{"postal": {"7 Other Row\nElsewhere"}, "etag": {"1"}})
		if lines := d.person.GetPostalLines(); a.StatusCode != http.StatusOK || lines[len(lines)-1] != c.last {
			t.Errorf("%s: got %d, %q, %s", c.zone, a.StatusCode, lines, a.say())
		}
	}
}

func TestWhatIsWrongWithAnAddressIsSaidAtOnce(t *testing.T) {
	d, server := newDesk(t)
	d.known()
	address := link(t, server, links.Move)
	f := get(t, address).page.form(t, "Change it")
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
