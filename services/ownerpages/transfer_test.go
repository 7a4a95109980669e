package ownerpages_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"golang.org/x/net/html/atom"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/links"
)

func TestACodeIsMadeShownOnceAndCalledOff(t *testing.T) {
	d, server := newDesk(t)
	atAddress(t, d, server)
	address := link(t, server, links.GiveAway)
	form := get(t, address).page.form(t, "Make the code")
	a := post(t, address, form)
	// What is to be told follows the words that announce it, and nothing stands
	// between.
	if !strings.Contains(a.say(), "on the day you hand the vehicle over: The page ") || strings.Index(a.say(), "shown this once") < strings.Index(a.say(), "7Q4K") {
		t.Errorf("the three things: %s", a.say())
	}
	for _, want := range []string{"7Q4K-M2XW-9TRC", "AM0147P", server.URL + "/take-over", "until 1 June 2026", "shown this once"} {
		if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), want) {
			t.Errorf("without %q: %d, %s", want, a.StatusCode, a.say())
		}
	}
	if d.offers[0].GetOfferedBy() != thePerson {
		t.Errorf("offered %v", d.offers)
	}
	if again := post(t, address, form); strings.Contains(again.say(), "7Q4K") || !strings.Contains(again.say(), "have a new link sent to you") || len(d.offers) != 1 {
		t.Errorf("sent twice: %s", again.say())
	}
	undo := a.page.form(t, "Call it off")
	if a := post(t, address, undo); a.StatusCode != http.StatusOK || d.offers[0].GetState() != ownerv1.TransferState_TRANSFER_STATE_CALLED_OFF || !strings.Contains(a.say(), "stays yours") {
		t.Errorf("got %d, %s", a.StatusCode, a.say())
	}
	undo.Set("request", "0192f0c4-5a4e-7000-8000-000000000001")
	if a := post(t, address, undo); a.StatusCode != http.StatusConflict || !strings.Contains(a.say(), "too late") {
		t.Errorf("called off twice: got %d, %s", a.StatusCode, a.say())
	}
	undo.Set("transfer", "vehicles/AM0148R/transfers/0")
	if a := post(t, address, undo); a.StatusCode != http.StatusBadRequest {
		t.Errorf("of another vehicle: got %d", a.StatusCode)
	}
}

// newcomer fills the page for taking over as somebody would.
func newcomer(t *testing.T, address, button string) url.Values {
	t.Helper()
	return filled(get(t, address).page.form(t, button), "serial", "am 0147-p", "code", "7Q4K-M2XW-9TRC", "name", "Wilhelmine Oberndörffer-Kastenbein",
		"email", "wilhelmine@oberndoerffer.example", "phone", "01632 960983", "postal", "The Old Boathouse\r\nQuay Lane\r\n\r\nSandmouth\r\n",
		"zone", "Europe/London", "consent-mail", "yes", "consent-text", "yes", "consent-year", "no")
}

func TestANewOwnerTakesTheVehicleOver(t *testing.T) {
	d, server := newDesk(t)
	address := server.URL + "/take-over"
	form := newcomer(t, address, "Take it over")
	if form.Get("language") != "en" {
		t.Fatalf("the form is %v", form)
	}
	a := post(t, address, form)
	if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "AM0147P is yours in our records.") {
		t.Fatalf("got %d, %s", a.StatusCode, a.say())
	}
	r := d.accepted[0]
	who := r.GetNewOwner()
	// 01632 960983 dialled in the United Kingdom is +441632960983: checks.md O-49.
	if who.GetPhone() != "+441632960983" || who.GetTimeZone() != "Europe/London" || who.GetLanguage() != "en" || who.GetFormatLocale() != "en-GB" ||
		strings.Join(who.GetPostalLines(), "|") != "The Old Boathouse|Quay Lane|Sandmouth|UNITED KINGDOM" || who.GetDistanceUnit() != "mi" {
		t.Errorf("the new owner is %v", who)
	}
	page := get(t, address).say()
	for i, want := range []struct {
		purpose ownerv1.Purpose
		way     ownerv1.ContactWay
		given   bool
	}{
		{ownerv1.Purpose_PURPOSE_SERVICE, ownerv1.ContactWay_CONTACT_WAY_MAIL, true},
		{ownerv1.Purpose_PURPOSE_SERVICE, ownerv1.ContactWay_CONTACT_WAY_TEXT, true},
		{ownerv1.Purpose_PURPOSE_YEAR_LETTER, ownerv1.ContactWay_CONTACT_WAY_UNSPECIFIED, false},
	} {
		c := r.GetConsents()[i]
		if c.GetPurpose() != want.purpose || c.GetWay() != want.way || c.GetGiven() != want.given || c.GetSource() != ownerv1.ConsentSource_CONSENT_SOURCE_PAGE ||
			c.GetLanguage() != "en" || !c.GetConsentTime().AsTime().Equal(now) {
			t.Errorf("consent %d is %v", i, c)
		}
		// What is kept is what was shown, word for word.
		if c.GetWording() == "" || !strings.Contains(page, c.GetWording()) {
			t.Errorf("%q was not shown", c.GetWording())
		}
	}
	// The former owner's links are dead, and the new owner's work.
	if old := get(t, link(t, server, links.Schedule)); old.StatusCode != http.StatusNotFound {
		t.Errorf("the former owner: got %d", old.StatusCode)
	}
	if next := get(t, server.URL+a.page.press(t, "See what is due")); next.StatusCode != http.StatusOK || !strings.Contains(next.say(), "AM0147P 1 piece of work is to be done now") {
		t.Errorf("the new owner: got %d, %s", next.StatusCode, next.say())
	}
}

func TestOneRefusalWhateverIsWrongWithSerialOrCode(t *testing.T) {
	first := ""
	for name, change := range map[string][2]string{
		"a wrong code":                   {"code", "AAAA-BBBB-CCCC"},
		"no code":                        {"code", ""},
		"a flood for a code":             {"code", strings.Repeat("A", 2000)},
		"a serial that nobody has":       {"serial", "AM0148R"},
		"a wrong check character":        {"serial", "AM0147X"},
		"no serial":                      {"serial", ""},
		"a serial that cannot be one":    {"serial", "<b>"},
		"a vehicle that is not offered":  {"serial", "AM01058"},
		"a serial with a code in it too": {"serial", "7Q4K-M2XW-9TRC"},
	} {
		_, server := newDesk(t)
		form := newcomer(t, server.URL+"/take-over", "Take it over")
		a := post(t, server.URL+"/take-over", filled(form, change[0], change[1]))
		said := a.page.all(atom.P)
		wrong := ""
		for _, p := range said {
			if attribute(p, "id") == "wrong" {
				wrong = textOf(p)
			}
		}
		if first == "" {
			first = wrong
		}
		if a.StatusCode != http.StatusUnprocessableEntity || wrong == "" || wrong != first {
			t.Errorf("%s: got %d, %q, want %q", name, a.StatusCode, wrong, first)
		}
		// What was typed stays, for a slip to be seen; a flood does not.
		if back := a.page.form(t, "Take it over"); len(form.Get("code")) < 100 && back.Get("code") != form.Get("code") || len(back.Get("code")) > 40 || back.Get("name") == "" {
			t.Errorf("%s: the form comes back as %v", name, back)
		}
	}
}

func TestWhatIsWrongWithANewOwnerIsSaid(t *testing.T) {
	for _, c := range []struct{ name, field, value, want string }{
		{"no name", "name", "", "give your name"},
		{"no country", "zone", "", "choose your country"},
		{"a zone that is not offered", "zone", "Etc/UTC", "choose your country"},
		{"no telephone that is one", "phone", "12", "telephone number"},
		{"no telephone, and text messages wanted", "phone", "", "telephone number"},
		{"no mail address, and mail wanted", "email", "", "mail address"},
		{"a question left open", "consent-year", "", "each of the three questions"},
		{"an answer that is none", "consent-mail", "perhaps", "each of the three questions"},
		{"a language that nobody speaks here", "language", "fr", "choose a language"},
		{"a unit that is none", "unit", "m", "miles or kilometres"},
		{"an address of a page", "postal", strings.Repeat("x\n", 7), "at most six"},
	} {
		d, server := newDesk(t)
		address := server.URL + "/take-over"
		a := post(t, address, filled(newcomer(t, address, "Take it over"), c.field, c.value))
		if a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.say(), c.want) || d.count() != 0 {
			t.Errorf("%s: got %d, %s", c.name, a.StatusCode, a.say())
		}
	}
	d, server := newDesk(t)
	refused, err := status.New(codes.InvalidArgument, "no").WithDetails(&errdetails.BadRequest{FieldViolations: []*errdetails.BadRequest_FieldViolation{
		{Field: "new_owner.email", Description: `got "x", want an address`},
	}})
	if err != nil {
		t.Fatal(err)
	}
	d.refuse = refused.Err()
	address := server.URL + "/take-over"
	if a := post(t, address, newcomer(t, address, "Take it over")); !strings.Contains(a.say(), "a mail address at which we can reach you") {
		t.Errorf("refused by the service: %s", a.say())
	}
	d.refuse = status503
	if a := post(t, address, newcomer(t, address, "Take it over")); a.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("out of reach: got %d", a.StatusCode)
	}
}

func TestThePageForTakingOverSpeaksTheLanguageThatIsChosen(t *testing.T) {
	d, server := newDesk(t)
	a := get(t, server.URL+"/take-over", "Accept-Language", "en-US")
	german := server.URL + a.page.press(t, "Deutsch")
	form := filled(newcomer(t, german, "Übernehmen"), "zone", "Europe/Berlin", "phone", "030 23125 000")
	a = get(t, german)
	if form.Get("language") != "de" || !strings.Contains(a.say(), "Vereinigtes Königreich") || !strings.Contains(a.say(), "Vereinigte Staaten: New York") {
		t.Fatalf("%v in %s", form, a.say())
	}
	if unit, english := form.Get("unit"), newcomer(t, server.URL+"/take-over?language=en", "Take it over").Get("unit"); unit != "km" || english != "mi" {
		t.Errorf("distances are in %q for a German reader and in %q for an English one; want km and mi", unit, english)
	}
	a = post(t, german, filled(form, "name", ""))
	if !strings.Contains(a.say(), "Bitte geben Sie Ihren Namen an, in höchstens 200 Zeichen.") {
		t.Errorf("got %s", a.say())
	}
	a = post(t, german, filled(form, "name", "Ida"))
	if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "Willkommen") || d.accepted[0].GetConsents()[0].GetLanguage() != "de" ||
		d.accepted[0].GetNewOwner().GetFormatLocale() != "de-DE" {
		t.Errorf("got %d, %s, %v", a.StatusCode, a.say(), d.accepted)
	}
	// The country of somebody whose browser names one is chosen beforehand, where
	// it has one clock.
	for browser, want := range map[string]string{"de-AT": "Europe/Vienna", "en-GB": "Europe/London", "en-US": "", "en": "", "fr-FR": "Europe/Paris"} {
		a := get(t, server.URL+"/take-over", "Accept-Language", browser)
		button := "Take it over"
		if browser == "de-AT" {
			button = "Übernehmen"
		}
		if got := a.page.form(t, button).Get("zone"); got != want {
			t.Errorf("%s: got %q, want %q", browser, got, want)
		}
	}
}

// How many digits a number has: checks.md O-49 (ITU-T E.164) and the numbering
// plans; of the numbers those reserved for fiction.
func TestATelephoneNumberIsWholeForItsCountry(t *testing.T) {
	for _, c := range []struct{ zone, phone, want, says string }{
		{"Europe/London", "01632 960983", "+441632960983", ""},
		{"Europe/London", "01632 96", "", "no whole telephone number for the country chosen, United Kingdom"},
		{"Europe/London", "01632 961", "", "no whole telephone number for the country chosen, United Kingdom"},
		{"Europe/London", "01632 9609", "", "no whole telephone number for the country chosen, United Kingdom"},
		{"Europe/London", "01632 9609831", "", "no whole telephone number for the country chosen, United Kingdom"},
		{"Europe/Berlin", "030 23125 000", "+493023125000", ""},
		{"Europe/Zurich", "044 668 18 00", "+41446681800", ""},
		{"Europe/Rome", "+1 902 555 0123", "+19025550123", ""},
		{"Europe/London", "960983", "", "no whole telephone number for the country chosen, United Kingdom"}, // within a town
		{"Europe/Berlin", "+44 1632 960983", "+441632960983", ""},
		{"Europe/Berlin", "+44 1632 96", "", "no whole telephone number for the country chosen, Germany"},
		{"America/New_York", "212 555 0143", "+12125550143", ""},
		{"America/New_York", "555 0143", "", "no whole telephone number for the country chosen, United States"},
		{"Europe/London", "call me", "", "no whole telephone number"},
	} {
		d, server := newDesk(t)
		address := server.URL + "/take-over"
		a := post(t, address, filled(newcomer(t, address, "Take it over"), "zone", c.zone, "phone", c.phone))
		if c.want == "" {
			if a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.say(), c.says) || d.count() != 0 || a.page.form(t, "Take it over").Get("phone") != c.phone {
				t.Errorf("%s in %s: got %d, %s", c.phone, c.zone, a.StatusCode, a.say())
			}
			continue
		}
		if a.StatusCode != http.StatusOK || d.accepted[0].GetNewOwner().GetPhone() != c.want {
			t.Errorf("%s in %s: got %d, %v, %s", c.phone, c.zone, a.StatusCode, d.accepted, a.say())
		}
	}
}

func TestALetterFindsTheCountry(t *testing.T) {
	for _, c := range []struct{ page, zone, postal, want string }{
		{"en", "Europe/Berlin", "Am Hafen 1\nSandmünde", "Am Hafen 1|Sandmünde|GERMANY"},
		{"de", "Europe/Berlin", "Am Hafen 1\nSandmünde\nDeutschland", "Am Hafen 1|Sandmünde|GERMANY"},
		{"en", "Europe/Berlin", "Am Hafen 1\nSandmünde\nGermany", "Am Hafen 1|Sandmünde|GERMANY"},
		{"en", "Europe/Berlin", " \n", ""},
		{"en", "Europe/London", "1\n2\n3\n4\n5\n6", "1|2|3|4|5|6|UNITED KINGDOM"},
	} {
		d, server := newDesk(t)
		address, button := server.URL+"/take-over?language="+c.page, "Take it over"
		if c.page == "de" {
			button = "Übernehmen"
		}
		a := post(t, address, filled(newcomer(t, address, button), "zone", c.zone, "postal", c.postal, "phone", "+44 1632 960983"))
		if a.StatusCode != http.StatusOK || strings.Join(d.accepted[0].GetNewOwner().GetPostalLines(), "|") != c.want {
			t.Errorf("%q: got %d, %v", c.postal, a.StatusCode, d.accepted)
		}
	}
}

// The countries in the list are not all.
func TestANewOwnerMayLiveAnywhere(t *testing.T) {
	for _, c := range []struct{ country, clock, phone, zone, formats, line, wrong string }{
		// The Emirates have the code 971, and nine digits for mobiles (from memory).
		{"United Arab Emirates", "Dubai", "050 123 4567", "Asia/Dubai", "en-AE", "UNITED ARAB EMIRATES", ""},
		{"united arab  emirates", "Asia/Dubai", "+441632960983", "Asia/Dubai", "en-AE", "UNITED ARAB EMIRATES", ""},
		{"Trinidad & Tobago", "port of spain", "", "America/Port_of_Spain", "en-TT", "TRINIDAD & TOBAGO", ""},
		{"Ruritania", "europe/london", "", "Europe/London", "en", "RURITANIA", ""},
		{"Argentina", "America/Argentina/Ushuaia", "", "America/Argentina/Ushuaia", "en-AR", "ARGENTINA", ""},
		{"", "Dubai", "", "", "", "", "Please give the name of your country."},
		{"Ruritania", "", "", "", "", "", "no such time zone and no such city"},
		{"Ruritania", "Atlantis", "", "", "", "", "no such time zone and no such city"},
		{"Ruritania", "Local", "", "", "", "", "no such time zone and no such city"},
		{"Ruritania", "../../etc/passwd", "", "", "", "", "no such time zone and no such city"},
		{strings.Repeat("x", 81), "Dubai", "", "", "", "", "Please give the name of your country."},
		{"Ruritania", "Dubai", "01632 960983", "", "", "", "beginning with + and its country code"},
		{"Ruritania", "Dubai", "+441632960983", "Asia/Dubai", "en", "RURITANIA", ""},
	} {
		d, server := newDesk(t)
		address := server.URL + "/take-over"
		form := filled(newcomer(t, address, "Take it over"), "zone", "other", "country", c.country, "clock", c.clock, "phone", c.phone, "consent-text", "no")
		a := post(t, address, form)
		if c.wrong != "" {
			back := a.page.form(t, "Take it over")
			if a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.say(), c.wrong) || d.count() != 0 || back.Get("country") != c.country || back.Get("clock") != c.clock || back.Get("zone") != "other" {
				t.Errorf("%s, %s: got %d, %s", c.country, c.clock, a.StatusCode, a.say())
			}
			continue
		}
		if a.StatusCode != http.StatusOK {
			t.Errorf("%s, %s: got %d, %s", c.country, c.clock, a.StatusCode, a.say())
			continue
		}
		who := d.accepted[0].GetNewOwner()
		if lines := who.GetPostalLines(); who.GetTimeZone() != c.zone || who.GetFormatLocale() != c.formats || lines[len(lines)-1] != c.line {
			t.Errorf("%s, %s: got %v", c.country, c.clock, who)
		}
	}
}

func TestANewOwnerIsToldWhatHappensNext(t *testing.T) {
	for _, c := range []struct{ mail, text, postal, want string }{
		{"yes", "yes", "Quay Lane", "We write to you by mail when something is due."},
		{"no", "yes", "Quay Lane", "We send you a text message when something is due."},
		{"no", "no", "Quay Lane", "We send you a letter when something is due."},
		{"no", "no", "", "we have no way to tell you when something is due"},
	} {
		_, server := newDesk(t)
		address := server.URL + "/take-over"
		if a := get(t, address); !strings.Contains(a.say(), "the vehicle is yours in our records at once") {
			t.Errorf("before: %s", a.say())
		}
		a := post(t, address, filled(newcomer(t, address, "Take it over"), "consent-mail", c.mail, "consent-text", c.text, "postal", c.postal))
		if !strings.Contains(a.say(), c.want) || !strings.Contains(a.say(), "The links on this page work for a day") {
			t.Errorf("got %d, %s", a.StatusCode, a.say())
		}
	}
}
