package ownerpages_test

import (
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"halfshaft/services/internal/links"
	"halfshaft/services/ownerpages"
)

func TestACalendarIsMadeReadAndEnded(t *testing.T) {
	d, server := newDesk(t)
	atAddress(t, d, server)
	address := link(t, server, links.Calendar)
	form := get(t, address).page.form(t, "Make the address")
	a := post(t, address, form)
	secret := d.feed
	host := strings.TrimPrefix(server.URL, "http://")
	if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), server.URL+"/calendar/"+secret+".ics") || !strings.Contains(a.say(), "webcal://"+host+"/calendar/"+secret+".ics") {
		t.Fatalf("got %d, %s", a.StatusCode, a.say())
	}
	if got := a.page.press(t, "Open in my calendar"); got != "webcal://"+host+"/calendar/"+secret+".ics" {
		t.Errorf("the button leads to %s", got)
	}
	if again := post(t, address, form); strings.Contains(html.UnescapeString(again.body), secret) || !strings.Contains(again.say(), "make a new one") {
		t.Errorf("sent twice: %s", again.say())
	}

	// RFC 5545 section 8.1 for the type, RFC 9110 section 13.1.2 for the rest.
	feed := server.URL + "/calendar/" + secret + ".ics"
	got := get(t, feed)
	if got.StatusCode != http.StatusOK || got.body != theCalendar || got.Header.Get("Content-Type") != "text/calendar; charset=utf-8" ||
		got.Header.Get("ETag") != `"abc"` || !strings.HasPrefix(got.Header.Get("Cache-Control"), "private") {
		t.Errorf("got %d, %v, %q", got.StatusCode, got.Header, got.body)
	}
	for tag, want := range map[string]int{`"abc"`: 304, `W/"abc"`: 304, `"x", "abc"`: 304, "*": 304, `"x"`: 200, "": 200} {
		r := get(t, feed, "If-None-Match", tag)
		if r.StatusCode != want || want == 304 && (r.body != "" || r.Header.Get("ETag") != `"abc"`) {
			t.Errorf("%s: got %d, want %d", tag, r.StatusCode, want)
		}
	}
	if head := do(t, "HEAD", feed, "", ""); head.StatusCode != http.StatusOK || head.Header.Get("ETag") != `"abc"` {
		t.Errorf("HEAD: got %d", head.StatusCode)
	}
	for _, path := range []string{"/calendar/", "/calendar/.ics", "/calendar/" + secret, "/calendar/wrong.ics", "/calendar/" + strings.Repeat("x", 300) + ".ics"} {
		if r := get(t, server.URL+path); r.StatusCode != http.StatusNotFound {
			t.Errorf("%s: got %d", path, r.StatusCode)
		}
	}
	if r := do(t, "POST", feed, formType, ""); r.StatusCode == http.StatusOK {
		t.Errorf("POST: got %d", r.StatusCode)
	}
	d.refuse = status503
	if r := get(t, feed); r.StatusCode != http.StatusServiceUnavailable || r.Header.Get("Retry-After") == "" {
		t.Errorf("out of reach: got %d", r.StatusCode)
	}
	d.refuse = nil

	a = post(t, address, a.page.form(t, "Turn this calendar off"))
	if a.StatusCode != http.StatusOK || d.feed != "" || get(t, feed).StatusCode != http.StatusNotFound {
		t.Errorf("got %d, %s", a.StatusCode, a.say())
	}
	if a := post(t, address, get(t, address).page.form(t, "Turn this calendar off")); a.StatusCode != http.StatusOK {
		t.Errorf("none to end: got %d, %s", a.StatusCode, a.say())
	}
}

// Whoever sends a request can say any host in it. What is shown of a secret or
// of the way to hand a vehicle over must not lead there.
func TestNoAddressIsTakenFromARequest(t *testing.T) {
	d, server := newDesk(t)
	for _, address := range []string{"", "https://care.aldermoor.example"} {
		server.Config.Handler = handler(t, d, func(c *ownerpages.Config) { c.Address = address })
		clear(d.requests) // a link makes one code
		for purpose, want := range map[links.Purpose]string{links.Calendar: "/calendar/", links.GiveAway: "/take-over"} {
			a := post(t, link(t, server, purpose), url.Values{}, "X-Forwarded-Proto", "https", "X-Forwarded-Host", "elsewhere.example")
			if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), " "+address+want) || strings.Contains(a.body, strings.TrimPrefix(server.URL, "http://")) || strings.Contains(a.body, "elsewhere") {
				t.Errorf("%c: got %d, %s", purpose, a.StatusCode, a.say())
			}
			if told := strings.Contains(a.say(), "The address begins as that of this page does"); told != (address == "") {
				t.Errorf("%c at %q: %s", purpose, address, a.say())
			}
			if webcal := strings.Contains(a.body, "webcal://"); webcal != (address != "" && purpose == links.Calendar) {
				t.Errorf("%c at %q: %s", purpose, address, a.body)
			}
		}
	}
}
