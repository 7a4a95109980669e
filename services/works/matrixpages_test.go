package works_test

import (
	"cmp"
	"crypto/rand"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/ownerpages"
)

// rows says of each address of the owner pages which walk below covers it. An
// address without a row fails the test.
var rows = map[string]string{
	"GET /l/{token}": "links", "POST /l/{token}": "links", "/l/{token}": "methods",
	"GET /take-over": "take over", "POST /take-over": "take over", "/take-over": "methods",
	"GET /l/{token}/handbook/{issue}/{file}": "handbooks",
	"GET /calendar/{file}":                   "calendars", "POST /in/text": "reports", "/": "nowhere",
}

// linkPurposes are the purposes that have a page.
var linkPurposes = []links.Purpose{links.Odometer, links.Unsubscribe, links.Schedule, links.Booked, links.Snooze, links.Done,
	links.Transfer, links.StopYearLetter, links.Calendar, links.Handbook, links.History, links.People, links.GiveAway, links.Move}

// pageWalk presses links of the pages of a whole works.
type pageWalk struct {
	*world
	t     *testing.T
	ring  links.Ring
	at    string
	cells int
	fleet map[string]bool
}

// httpAnswer is an answer.
type httpAnswer struct {
	code int
	body string
}

// TestEveryPageOfTheOwnersAsEverybodyAboutEverything presses every link there is
// and calls every address, by every method that has one, as who has the vehicle,
// another, a former owner, somebody whose links are withdrawn, and nobody.
func TestEveryPageOfTheOwnersAsEverybodyAboutEverything(t *testing.T) {
	racetest.Skip(t, "its calls follow each other")
	for _, pattern := range ownerpages.Patterns() {
		if rows[pattern] == "" {
			t.Errorf("%s has no row in matrixpages_test.go: which walk covers it?", pattern)
		}
	}
	c := matrixWorks(t)
	c.Data = t.TempDir()
	c.Text.Receive = []string{"whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"}
	w := newWorld(t, c)
	w.populate()
	ring, err := links.OpenRing(filepath.Join(c.Data, "secrets", "links.key"), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	p := &pageWalk{world: w, t: t, ring: ring, at: "http://" + w.process.HTTPAddress().String(), fleet: w.fleet()}
	begin := time.Now()
	p.links()
	p.handbooks()
	p.calendars()
	p.takeOver()
	p.others()
	t.Logf("%d cells in %.1f s", p.cells, time.Since(begin).Seconds())
}

// token signs a link to a vehicle for a person, as a message would hold it.
func (p *pageWalk) token(purpose links.Purpose, serial, person string, lives time.Duration, epoch int) string {
	p.t.Helper()
	var nonce links.Nonce
	if _, err := rand.Read(nonce[:]); err != nil {
		p.t.Fatal(err)
	}
	target := links.Target{Serial: serial, Person: strings.TrimPrefix(person, "people/"), Epoch: epoch}
	token, err := p.ring.Token(links.Link{Purpose: purpose, Subject: target.Subject(), Expires: p.clock.Now().Add(lives)}, nonce)
	if err != nil {
		p.t.Fatal(err)
	}
	return token
}

// ask calls an address. The clock goes on, so that nobody calls too often.
func (p *pageWalk) ask(method, path, form string) httpAnswer {
	p.t.Helper()
	p.clock.Move(40 * time.Second)
	r, err := http.NewRequestWithContext(p.t.Context(), method, p.at+path, strings.NewReader(form))
	if err != nil {
		p.t.Fatal(err)
	}
	if method == http.MethodPost {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	answer, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		p.t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		p.t.Fatal(err)
	}
	p.cells++
	return httpAnswer{answer.StatusCode, string(body)}
}

// dead are the links that are no key, and get one answer.
func (p *pageWalk) dead(purpose links.Purpose) map[string]string {
	const day = 24 * time.Hour
	own, owner := p.serials["A"], p.people["owner"]
	good := p.token(purpose, own, owner, day, 0)
	i := len(good) - 4
	return map[string]string{
		"another's vehicle": p.token(purpose, p.serials["C"], owner, day, 0),
		"another person":    p.token(purpose, own, p.people["second"], day, 0),
		"a former owner":    p.token(purpose, p.serials["D"], owner, day, 0),
		"who sold it":       p.token(purpose, p.serials["G"], p.people["seller"], day, 0),
		"no vehicle":        p.token(purpose, p.serials["E"], owner, day, 0),
		"nobody":            p.token(purpose, own, "people/p8999", day, 0),
		"withdrawn":         p.token(purpose, p.serials["B"], p.people["third"], day, 0),
		"tampered":          good[:i] + map[bool]string{true: "B", false: "A"}[good[i] == 'A'] + good[i+1:],
		"cut off":           good[:20],
		"another key":       p.forged(purpose, own, owner),
	}
}

// forged signs with a key of its own under the number of the works'.
func (p *pageWalk) forged(purpose links.Purpose, serial, person string) string {
	secret := make([]byte, links.KeySize)
	other := pageWalk{world: p.world, t: p.t, ring: links.Ring{{ID: p.ring[0].ID, Secret: secret}}}
	return other.token(purpose, serial, person, time.Hour, 0)
}

var requestID = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}`)

func (p *pageWalk) links() {
	got(p.as("third").Reminders.WithdrawLinks(p.ctx, &reminderv1.WithdrawLinksRequest{Person: p.people["third"], RequestId: uuid.NewString()}))(p.t)
	for b := range 256 { // a purpose that is not in the list has no page
		purpose := links.Purpose(b)
		a := p.ask("GET", "/l/"+p.token(purpose, p.serials["A"], p.people["owner"], time.Hour, 0), "")
		if known := slices.Contains(linkPurposes, purpose); known != (a.code != http.StatusNotFound) {
			p.t.Errorf("a link of the purpose %q: %d, in the list: %v", purpose, a.code, known)
		}
	}
	first := ""
	for _, method := range []string{"GET", "POST"} {
		for _, purpose := range linkPurposes {
			for name, token := range p.dead(purpose) {
				a := p.ask(method, "/l/"+token, "List-Unsubscribe=One-Click&value=1&unit=mi&date=2026-05-17&day=2026-06-01")
				first = cmp.Or(first, a.body)
				if a.code != http.StatusNotFound || a.body != first {
					p.t.Errorf("%s by %s with a link %c: got %d, %s", name, method, purpose, a.code, a.body)
				}
			}
			stops := purpose == links.Unsubscribe || purpose == links.StopYearLetter // whoever wants no more is let go
			a := p.ask(method, "/l/"+p.token(purpose, p.serials["A"], p.people["owner"], -time.Second, 0), "")
			if want := map[bool]int{true: http.StatusOK, false: http.StatusGone}[stops]; a.code != want {
				p.t.Errorf("a link %c whose time is over by %s: got %d, want %d", purpose, method, a.code, want)
			}
			a = p.ask(method, "/l/"+p.token(purpose, p.serials["A"], p.people["owner"], time.Hour, 0), "")
			if a.code == http.StatusNotFound || a.code == http.StatusForbidden || a.code >= 500 {
				p.t.Errorf("their own by %s with a link %c: got %d: %s", method, purpose, a.code, a.body)
			}
			p.search(fmt.Sprintf("%s with a link %c", method, purpose), "owner", "A", a.body)
			// The present owner of a vehicle that was another's learns nothing of
			// them.
			a = p.ask("GET", "/l/"+p.token(purpose, p.serials["D"], p.people["second"], time.Hour, 0), "")
			p.search(fmt.Sprintf("GET with a link %c to what was another's", purpose), "second", "D", a.body)
		}
	}
}

// handbooks asks for the files of handbooks with links of every purpose: one to the
// handbook of one's own gives them, and all others are dead.
func (p *pageWalk) handbooks() {
	own := p.token(links.Handbook, p.serials["A"], p.people["owner"], 24*time.Hour, 0)
	for file, begin := range map[string]string{"A5.pdf": "%PDF-", "A4.pdf": "%PDF-", "Letter.pdf": "%PDF-", "handbook.html": "<!doctype html>"} {
		first := ""
		for name, token := range p.dead(links.Handbook) {
			a := p.ask("GET", "/l/"+token+"/handbook/1/"+file, "")
			first = cmp.Or(first, a.body)
			if a.code != http.StatusNotFound || a.body != first {
				p.t.Errorf("%s asks for %s: got %d, %.80q", name, file, a.code, a.body)
			}
		}
		for _, purpose := range linkPurposes {
			a := p.ask("GET", "/l/"+p.token(purpose, p.serials["A"], p.people["owner"], time.Hour, 0)+"/handbook/1/"+file, "")
			if opens := purpose == links.Handbook; opens != (a.code == http.StatusOK && strings.HasPrefix(strings.ToLower(a.body), strings.ToLower(begin))) {
				p.t.Errorf("a link %c asks for %s: got %d, %.80q", purpose, file, a.code, a.body)
			}
		}
		if a := p.ask("GET", "/l/"+p.token(links.Handbook, p.serials["A"], p.people["owner"], -time.Second, 0)+"/handbook/1/"+file, ""); a.code != http.StatusGone {
			p.t.Errorf("a link whose time is over asks for %s: got %d", file, a.code)
		}
	}
	for _, path := range []string{"/handbook/2/A5.pdf", "/handbook/0/A5.pdf", "/handbook/-/A5.pdf", "/handbook/1/A6.pdf", "/handbook/1/handbook.json", "/handbook/preview/A5.pdf", "/handbook/1/"} {
		if a := p.ask("GET", "/l/"+own+path, ""); a.code != http.StatusNotFound {
			p.t.Errorf("%s: got %d", path, a.code)
		}
	}
	if a := p.ask("POST", "/l/"+own+"/handbook/1/A5.pdf", ""); a.code != http.StatusNotFound && a.code != http.StatusMethodNotAllowed {
		p.t.Errorf("a form sent to a file: got %d", a.code)
	}
	for _, ask := range []string{"?issue=2", "?issue=9999"} {
		if a := p.ask("GET", "/l/"+own+ask, ""); a.code != http.StatusNotFound {
			p.t.Errorf("an issue that is not there: got %d", a.code)
		}
	}
}

// search looks for what is not for a person in a page.
func (p *pageWalk) search(where, who, letter, body string) {
	p.t.Helper()
	for other, marks := range p.markers {
		if other == who {
			continue
		}
		for _, mark := range marks {
			if strings.Contains(body, mark) {
				p.t.Errorf("%s: the page holds %q: %s", where, mark, near(body, mark))
			}
		}
	}
	for _, word := range serialLike.FindAllString(body, -1) {
		if p.fleet[word] && word != p.serials[letter] {
			p.t.Errorf("%s: the page names the vehicle %s: %s", where, word, near(body, word))
		}
	}
}

// calendars asks for the calendar of who has a vehicle, and of who had it.
func (p *pageWalk) calendars() {
	make := func(who, letter string) string {
		return got(p.as(who).Reminders.CreateCalendarFeed(p.ctx, &reminderv1.CreateCalendarFeedRequest{
			Parent: "vehicles/" + p.serials[letter], Person: p.people[who], RequestId: uuid.NewString()}))(p.t).GetSecret()
	}
	own, third := make("owner", "A"), make("third", "L")
	a := p.ask("GET", "/calendar/"+own+".ics", "")
	if a.code != http.StatusOK || !strings.Contains(a.body, "BEGIN:VCALENDAR") {
		p.t.Errorf("their own calendar: %d", a.code)
	}
	p.search("the calendar", "owner", "A", a.body)
	p.sold("L", "second")
	missing := p.ask("GET", "/calendar/"+strings.Repeat("a", len(own))+".ics", "")
	if missing.code != http.StatusNotFound {
		p.t.Errorf("no calendar: %d", missing.code)
	}
	for name, secret := range map[string]string{"a former owner's": third, "cut off": own[:len(own)-1], "another letter": "b" + own[1:]} {
		if a := p.ask("GET", "/calendar/"+secret+".ics", ""); a != missing {
			p.t.Errorf("%s: got %d, %q; want %d, %q", name, a.code, a.body, missing.code, missing.body)
		}
	}
}

// takeOver tries codes for every vehicle: one that is offered, one that is not,
// and one that nobody built answer alike.
func (p *pageWalk) takeOver() {
	if a := p.ask("GET", "/take-over", ""); a.code != http.StatusOK {
		p.t.Errorf("the page: %d", a.code)
	}
	first := ""
	for _, letter := range []string{"A", "C", "D", "E"} {
		form := url.Values{"serial": {p.serials[letter]}, "code": {"7Q4K-M2XW-9TRC"}, "name": {"Somebody"}, "email": {"some@post.example"}, "country": {"GB Europe/London"},
			"zone": {"Europe/London"}, "language": {"en"}, "unit": {"mi"}, "consent-mail": {"no"}, "consent-text": {"no"}, "consent-year": {"no"}, "request": {uuid.NewString()}}
		a := p.ask("POST", "/take-over", form.Encode())
		text := requestID.ReplaceAllString(strings.ReplaceAll(a.body, p.serials[letter], "SERIAL"), "ID")
		first = cmp.Or(first, fmt.Sprint(a.code, text))
		if fmt.Sprint(a.code, text) != first {
			p.t.Errorf("a wrong code for %s: %d reads otherwise than for the first", letter, a.code)
		}
		p.search("take over", "nobody", letter, a.body)
	}
}

// others calls what takes no link.
func (p *pageWalk) others() {
	for _, c := range []struct {
		method, path string
		want         int
	}{
		{"PUT", "/l/x", http.StatusMethodNotAllowed}, {"DELETE", "/l/x", http.StatusMethodNotAllowed}, {"PATCH", "/take-over", http.StatusMethodNotAllowed},
		{"GET", "/", http.StatusNotFound}, {"GET", "/l/", http.StatusNotFound}, {"GET", "/people/p0001", http.StatusNotFound}, {"GET", "/metrics", http.StatusNotFound},
		{"GET", "/debug/pprof/", http.StatusNotFound}, {"GET", "/calendar/x", http.StatusNotFound}, {"POST", "/calendar/x", http.StatusNotFound},
		{"GET", "/in/text", http.StatusNotFound},
		{"POST", "/in/text", http.StatusUnauthorized},
	} {
		if a := p.ask(c.method, c.path, `{"type": "message"}`); a.code != c.want {
			p.t.Errorf("%s %s: got %d, want %d", c.method, c.path, a.code, c.want)
		}
	}
}
