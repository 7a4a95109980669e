package ownerpages_test

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
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
