package ownerpages_test

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/links"
)

// stops are the links that stop something, with what they stop.
var stops = map[links.Purpose]struct {
	name    string
	purpose ownerv1.Purpose
}{
	links.Unsubscribe:    {"optOuts/AM0147P.p0031", ownerv1.Purpose_PURPOSE_SERVICE},
	links.StopYearLetter: {"optOuts/AM0147P.p0031.year-letter", ownerv1.Purpose_PURPOSE_YEAR_LETTER},
}

func TestOneClickUnsubscribes(t *testing.T) {
	// RFC 8058 section 3.2: the body is these 26 octets, or the same as
	// multipart/form-data; checks.md O-46.
	const body = "List-Unsubscribe=One-Click"
	if len(body) != 26 {
		t.Fatal("not the body of RFC 8058")
	}
	var multi bytes.Buffer
	writer := multipart.NewWriter(&multi)
	if err := writer.WriteField("List-Unsubscribe", "One-Click"); err != nil {
		t.Fatal(err)
	}
	writer.Close()
	for purpose, want := range stops {
		for contentType, body := range map[string]string{formType: body, writer.FormDataContentType(): multi.String()} {
			d, server := newDesk(t)
			a := do(t, "POST", link(t, server, purpose), contentType, body)
			// Section 3.1: no redirect, no cookie, nothing to do but this.
			if a.StatusCode != http.StatusOK || strings.Contains(a.body, "<") || len(a.Cookies()) > 0 {
				t.Errorf("%s: got %d, %q", contentType, a.StatusCode, a.body)
			}
			o := d.optOuts[want.name]
			if len(d.optOuts) != 1 || o.GetWay() != "one-click" || o.GetVehicle() != theVehicle || o.GetPerson() != thePerson || o.GetPurpose() != want.purpose {
				t.Errorf("%s: opted out %v", contentType, d.optOuts)
			}
			// A mail program that sends it twice does no harm.
			if again := do(t, "POST", link(t, server, purpose), contentType, body); again.StatusCode != http.StatusOK || len(d.optOuts) != 1 {
				t.Errorf("again: got %d", again.StatusCode)
			}
		}
	}
}

func TestTheStopPageStopsAndGoesOn(t *testing.T) {
	for purpose, want := range stops {
		d, server := newDesk(t)
		address := link(t, server, purpose)
		page := get(t, address)
		if page.StatusCode != http.StatusOK || !strings.Contains(page.say(), "Safety campaigns still come") {
			t.Errorf("got %d, %s", page.StatusCode, page.say())
		}
		a := post(t, address, page.page.form(t, "Stop"))
		if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "Safety campaigns still come") || d.optOuts[want.name].GetWay() != "page" {
			t.Errorf("got %d, %s, %v", a.StatusCode, a.say(), d.optOuts)
		}
		a = post(t, address, a.page.form(t, "That was a mistake, go on"))
		if a.StatusCode != http.StatusOK || len(d.optOuts) != 0 || !strings.Contains(a.say(), "Taken back") {
			t.Errorf("got %d, %s, %v", a.StatusCode, a.say(), d.optOuts)
		}
		if a := post(t, address, url.Values{"do": {"undo"}}); a.StatusCode != http.StatusOK {
			t.Errorf("nothing to end: got %d, %s", a.StatusCode, a.say())
		}
	}
}

func TestWhoHasStoppedAlreadyHasWhatTheyWant(t *testing.T) {
	d, server := newDesk(t)
	d.refuse = status.Error(codes.AlreadyExists, "it is there")
	if a := do(t, "POST", link(t, server, links.Unsubscribe), formType, "List-Unsubscribe=One-Click"); a.StatusCode != http.StatusOK {
		t.Errorf("got %d, %s", a.StatusCode, a.body)
	}
	d.refuse = status503 // a mail program may try again
	if a := do(t, "POST", link(t, server, links.Unsubscribe), formType, "List-Unsubscribe=One-Click"); a.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("got %d, %s", a.StatusCode, a.body)
	}
}

func TestTheStopPageTellsOfWhatIsLessDrastic(t *testing.T) {
	_, server := newDesk(t)
	page := get(t, link(t, server, links.Unsubscribe))
	for _, want := range []string{"Only not now, or rather as a calendar?", "by text message or by letter, or fewer of them? Call us and we change it: +44 1632 960983."} {
		if !strings.Contains(page.say(), want) {
			t.Errorf("without %q: %s", want, page.say())
		}
	}
}

// Somebody who opens the link again sees where they stand.
func TestWhoHasStoppedSeesSinceWhenAndCanStartAgain(t *testing.T) {
	for purpose, c := range map[links.Purpose]struct{ button, since, again string }{
		links.Unsubscribe:    {"Stop the reminders", "You stopped them on 19 May 2026.", "Start the reminders again"},
		links.StopYearLetter: {"Stop the yearly letter", "You stopped it on 19 May 2026.", "Start the yearly letter again"},
	} {
		d, server := newDesk(t)
		d.now = time.Date(2026, 5, 18, 23, 30, 0, 0, time.UTC) // the 19th in London
		address := server.URL + "/l/" + token(t, purpose, d.now.Add(time.Hour))
		post(t, address, get(t, address).page.form(t, c.button))
		d.now = d.now.AddDate(0, 0, 3)
		a := get(t, server.URL+"/l/"+token(t, purpose, d.now.Add(time.Hour)))
		if !strings.Contains(a.say(), c.since) || !strings.Contains(a.say(), "Safety campaigns still come") || strings.Contains(a.say(), c.button) {
			t.Errorf("%c again: %s", purpose, a.say())
		}
		if len(d.optOuts) != 1 || d.count() != 1 {
			t.Errorf("%c: looking changed something: %v", purpose, d.optOuts)
		}
		if a = post(t, address, a.page.form(t, c.again)); a.StatusCode != http.StatusOK || len(d.optOuts) != 0 {
			t.Errorf("%c, started again: got %d, %s", purpose, a.StatusCode, a.say())
		}
		if a = get(t, server.URL+"/l/"+token(t, purpose, d.now.Add(time.Hour))); !strings.Contains(a.say(), c.button) {
			t.Errorf("%c, once more: %s", purpose, a.say())
		}
	}
	// Of somebody else, of the other purpose and of another vehicle it says nothing.
	d, server := newDesk(t)
	for _, name := range []string{"optOuts/AM0147P.p0031.year-letter", "optOuts/AM0147P.p00311", "optOuts/AM0148R.p0031"} {
		d.optOuts[name] = &reminderv1.OptOut{Name: name, Vehicle: theVehicle, CreateTime: timestamppb.New(now)}
	}
	if a := get(t, link(t, server, links.Unsubscribe)); strings.Contains(a.say(), "You stopped") {
		t.Errorf("got %s", a.say())
	}
}
