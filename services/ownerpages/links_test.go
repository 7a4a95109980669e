package ownerpages_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/links"
)

func TestLookingChangesNothing(t *testing.T) {
	d, server := newDesk(t)
	for _, purpose := range purposes {
		for _, method := range []string{"GET", "HEAD", "OPTIONS", "PUT", "DELETE", "PATCH"} {
			// A body as for one click, which only POST may obey (RFC 8058
			// section 3.2; checks.md O-46).
			a := do(t, method, link(t, server, purpose), formType, "List-Unsubscribe=One-Click")
			want := http.StatusMethodNotAllowed
			if method == "GET" || method == "HEAD" {
				want = http.StatusOK
			}
			if a.StatusCode != want {
				t.Errorf("%c by %s: got %d, want %d", purpose, method, a.StatusCode, want)
			}
		}
	}
	if d.count() != 0 {
		t.Errorf("%d changes were made by looking", d.count())
	}
}

// A purpose that nobody knows cannot be told from a forgery.
func TestLinksThatAreNoKeyGetOneAnswer(t *testing.T) {
	d, server := newDesk(t)
	good := token(t, links.Odometer, now.Add(time.Hour))
	target := links.Target{Serial: theSerial, Person: "p0031", Notice: theNotice}
	with := func(change func(*links.Target)) string {
		other := target
		change(&other)
		return tokenFor(t, links.Odometer, other, now.Add(time.Hour))
	}
	first := ""
	for _, c := range []struct{ name, token string }{
		{"forged", "A" + good[1:len(good)-1] + "A"},
		{"cut off", good[:20]},
		{"of another purpose", tokenFor(t, '?', target, now.Add(time.Hour))},
		{"withdrawn", with(func(t *links.Target) { t.Epoch = 7 })},
		{"of somebody else", with(func(t *links.Target) { t.Person = "p0099" })},
		{"of another vehicle", with(func(t *links.Target) { t.Serial = "AM0148R" })},
		{"of a notice that nobody sent", with(func(t *links.Target) { t.Notice = "E01.1999-01-01.due.mail.p0031" })},
	} {
		for _, method := range []string{"GET", "POST"} {
			a := do(t, method, server.URL+"/l/"+c.token, formType, "List-Unsubscribe=One-Click&value=1&unit=km&date=2026-05-17")
			if first == "" {
				first = a.body
			}
			if a.StatusCode != http.StatusNotFound || a.body != first {
				t.Errorf("%s by %s: got %d, %s", c.name, method, a.StatusCode, a.say())
			}
		}
	}
	if !strings.Contains(parse(t, first).text(), "+44 1632 960983") {
		t.Error("it does not say whom to call")
	}
	if d.count() != 0 {
		t.Errorf("%d changes", d.count())
	}
}

func TestAnOldLinkSaysThatItIsOld(t *testing.T) {
	d, server := newDesk(t)
	for _, purpose := range purposes {
		stops := purpose == links.Unsubscribe || purpose == links.StopYearLetter
		for _, method := range []string{"GET", "POST"} {
			a := do(t, method, server.URL+"/l/"+token(t, purpose, now), formType, "")
			// Whoever wants no more messages is let go.
			if stops != (a.StatusCode == http.StatusOK) || !stops && a.StatusCode != http.StatusGone {
				t.Errorf("%c by %s: got %d, %s", purpose, method, a.StatusCode, a.say())
			}
		}
	}
	if d.count() != 2 {
		t.Errorf("%d changes", d.count())
	}
}

func TestThePagesOfAFormerOwnerAreDead(t *testing.T) {
	d, server := newDesk(t)
	d.owner = "p0099"
	for _, purpose := range purposes {
		for _, method := range []string{"GET", "POST"} {
			a := do(t, method, link(t, server, purpose), formType, "value=1&unit=km&date=2026-05-17&day=2026-06-01")
			if a.StatusCode != http.StatusNotFound || strings.Contains(a.body, theSerial) {
				t.Errorf("%c by %s: got %d, %s", purpose, method, a.StatusCode, a.say())
			}
		}
	}
	if d.count() != 0 {
		t.Errorf("%d changes", d.count())
	}
}

// Nothing personal and no identifier of a person stands where a browser, a
// proxy or a log keeps it.
func TestNoAddressAndNoHeaderTellsOfAPerson(t *testing.T) {
	_, server := newDesk(t)
	for _, purpose := range purposes {
		a := get(t, link(t, server, purpose))
		if strings.Contains(a.body, "p0031") {
			t.Errorf("%c names the person: %s", purpose, a.body)
		}
		for header, want := range map[string]string{
			"Content-Security-Policy": "default-src 'none'", "Referrer-Policy": "no-referrer", "X-Content-Type-Options": "nosniff", "Cache-Control": "no-store",
			"X-Robots-Tag": "noindex",
		} {
			if got := a.Header.Get(header); !strings.HasPrefix(got, want) || strings.Contains(got, "unsafe") {
				t.Errorf("%c: %s: got %q", purpose, header, got)
			}
		}
		if len(a.Cookies()) > 0 {
			t.Errorf("%c sets a cookie", purpose)
		}
	}
}

func TestAPageSpeaksTheReadersLanguage(t *testing.T) {
	d, server := newDesk(t)
	for _, c := range []struct{ language, browser, want, lang string }{
		{"en-GB", "de", "What does the odometer show?", "en"},
		{"de-DE", "en", "Was zeigt der Kilometerzähler?", "de"},
		{"de-CH", "en", "Was zeigt der Kilometerzähler?", "de-CH"},
		{"xx", "de", "What does the odometer show?", "en"},
	} {
		d.person = &ownerv1.Person{Language: c.language}
		a := get(t, link(t, server, links.Odometer), "Accept-Language", c.browser)
		if !strings.Contains(a.say(), c.want) || !strings.Contains(a.body, `lang="`+c.lang+`"`) {
			t.Errorf("%s: %s", c.language, a.say())
		}
	}
	// Of a stranger only the browser tells.
	for browser, want := range map[string]string{"de-AT,de;q=0.9": "Dieser Link führt nirgendwohin", "fr,de;q=0.5": "Dieser Link", "fr": "This link", "": "This link", ";;;": "This link"} {
		if a := get(t, server.URL+"/l/x", "Accept-Language", browser); !strings.Contains(a.say(), want) {
			t.Errorf("%q: %s", browser, a.say())
		}
	}
}

// The day is the reader's: on the other side of the world it is another one.
func TestTodayIsTheReadersDay(t *testing.T) {
	d, server := newDesk(t)
	d.now = time.Date(2026, 5, 18, 23, 30, 0, 0, time.UTC)
	for zone, want := range map[string]string{"Europe/London": "2026-05-19", "America/New_York": "2026-05-18", "": "2026-05-18", "Nowhere/None": "2026-05-18"} {
		d.person.TimeZone = zone
		a := get(t, server.URL+"/l/"+token(t, links.Odometer, d.now.Add(time.Hour)))
		if got := a.page.form(t, "Send").Get("date"); got != want {
			t.Errorf("%s: got %s, want %s", zone, got, want)
		}
	}
}

func TestWhatTheServicesDoNotAnswerIsToBeTriedAgain(t *testing.T) {
	d, server := newDesk(t)
	d.refuse = status503
	a := post(t, link(t, server, links.GiveAway), url.Values{})
	if a.StatusCode != http.StatusServiceUnavailable || !strings.Contains(a.say(), "try again") {
		t.Errorf("got %d, %s", a.StatusCode, a.say())
	}
}

// Whoever pays for a vehicle is told of it and keeps nothing of it.
func TestWhoOnlyPaysIsToldWhoCanAnswer(t *testing.T) {
	d, server := newDesk(t)
	server.Config.Handler = handler(t, d, strangerAtTheServices)
	a := get(t, link(t, server, links.Odometer))
	if a.StatusCode != http.StatusForbidden || !strings.Contains(a.say(), "whoever looks after the vehicle") {
		t.Errorf("got %d, %s", a.StatusCode, a.say())
	}
	if a := post(t, link(t, server, links.Unsubscribe), url.Values{}); a.StatusCode != http.StatusOK {
		t.Errorf("they may stop: got %d, %s", a.StatusCode, a.say())
	}
}

// follow goes wherever the pages of a link lead, by looking and by sending what
// they let send, and gives the purposes that it came to.
func follow(t *testing.T, server *httptest.Server, first string, forms ...url.Values) map[links.Purpose]bool {
	t.Helper()
	reached := map[links.Purpose]bool{}
	own, err := ring.Read(first, now)
	if err != nil {
		t.Fatal(err)
	}
	for queue := []string{first}; len(queue) > 0; queue = queue[1:] {
		address := server.URL + "/l/" + queue[0]
		pages := []answer{get(t, address)}
		for _, form := range forms {
			pages = append(pages, post(t, address, form))
		}
		for _, a := range pages {
			for _, to := range regexp.MustCompile(`/l/([A-Za-z0-9_-]+)`).FindAllStringSubmatch(a.body, -1) {
				l, err := ring.Read(to[1], now)
				if to[1] == queue[0] {
					continue // the page itself
				}
				if err != nil || l.Expires.After(own.Expires) || l.Expires.After(now.Add(l.Purpose.Lasts())) {
					t.Errorf("%c leads to %+v, %v", own.Purpose, l, err)
				}
				if !reached[l.Purpose] {
					reached[l.Purpose] = true
					queue = append(queue, to[1])
				}
			}
		}
	}
	return reached
}

// A link that stops messages stands in a field that mail programs show and
// forward, and works for years. It is no key to anything else.
func TestALinkThatStopsLeadsNowhereAndNothingLeadsToHandingOver(t *testing.T) {
	for _, purpose := range purposes {
		_, server := newDesk(t)
		reached := follow(t, server, token(t, purpose, now.Add(2*365*24*time.Hour)), url.Values{}, url.Values{"do": {"undo"}, "answer": {"none"}},
			url.Values{"value": {"12345"}, "unit": {"km"}, "date": {"2026-05-18"}, "day": {"2026-06-01"}})
		if reached[links.Transfer] || reached[links.StopYearLetter] {
			t.Errorf("%c leads to %v", purpose, reached)
		}
		switch purpose {
		case links.Unsubscribe, links.StopYearLetter:
			if len(reached) > 0 {
				t.Errorf("%c leads to %v", purpose, reached)
			}
		default:
			if !reached[links.Odometer] || !reached[links.Booked] {
				t.Errorf("%c leads to %v only", purpose, reached)
			}
		}
	}
}
