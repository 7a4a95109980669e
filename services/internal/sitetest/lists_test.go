package sitetest

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/desk"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/ownerpages"
	"halfshaft/services/works"
)

// stretchedSite is the demo's site with pages of its own before the same
// services, to which they come by a connection that changes the amount of what
// is answered.
func (s *site) stretched(t testing.TB) (*site, *stretched) {
	t.Helper()
	data := filepath.Join(s.dir, "demo", "data")
	key, err := os.ReadFile(works.ServiceKeyFile(data))
	if err != nil {
		t.Fatal(err)
	}
	conn, err := works.Dial("unix:"+works.SocketPath(data), nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	c := &stretched{ClientConnInterface: accessgate.Forward(conn, strings.TrimSpace(string(key))), to: amount{rows: -1}}
	now, err := s.now()
	if err != nil {
		t.Fatal(err)
	}
	other := *s
	other.desk = serve(t, func(address string) (http.Handler, error) { return desk.New(stretchedDesk(c, address, now)) })
	ring, err := links.OpenRing(filepath.Join(data, "secrets", "links.key"), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	other.owners = serve(t, func(address string) (http.Handler, error) {
		return ownerpages.New(stretchedOwners(c, ring, address, now))
	})
	other.found = map[string]string{}
	for word, value := range s.found {
		other.found[word] = strings.Replace(value, s.owners, other.owners, 1)
	}
	return &other, c
}

// serve answers with a handler that knows its own address.
func serve(t testing.TB, handler func(address string) (http.Handler, error)) string {
	t.Helper()
	server := httptest.NewUnstartedServer(nil)
	_, port, err := net.SplitHostPort(server.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	address := "http://localhost:" + port
	if server.Config.Handler, err = handler(address); err != nil {
		t.Fatal(err)
	}
	server.Start()
	t.Cleanup(server.Close)
	return address
}

func stretchedDesk(c *stretched, address string, now time.Time) desk.Config {
	return desk.Config{
		SignIn: accessv1.NewSignInServiceClient(c), Access: accessv1.NewAccessServiceClient(c), Audit: accessv1.NewAuditServiceClient(c),
		Owners: ownerv1.NewOwnerServiceClient(c), Builds: buildv1.NewBuildServiceClient(c), Parts: partsv1.NewPartsServiceClient(c),
		Schedules: schedulev1.NewScheduleServiceClient(c), Reminders: reminderv1.NewReminderServiceClient(c),
		Warranties: warrantyv1.NewWarrantyServiceClient(c), Bulletins: bulletinv1.NewBulletinServiceClient(c),
		Enquiries: enquiryv1.NewEnquiryServiceClient(c), Handbooks: handbookv1.NewHandbookServiceClient(c), JobSheets: jobsheetv1.NewJobSheetServiceClient(c),
		AsService: func(ctx context.Context) context.Context {
			return access.NewContext(ctx, access.Caller{Role: access.Service, Bearer: "desk", Credential: "process"})
		},
		As: func(ctx context.Context, who desk.Signed) context.Context {
			caller := accesswire.Account(who.Account).Caller()
			caller.Credential = who.Session.GetName()
			return access.NewContext(ctx, caller)
		},
		Health: func(context.Context) (desk.Health, error) { return c.amount().health(now), nil },
		URL:    address, Works: "Aldermoor Works", Clock: func() time.Time { return now }, Logger: slog.New(slog.DiscardHandler),
	}
}

func stretchedOwners(c *stretched, ring links.Ring, address string, now time.Time) ownerpages.Config {
	return ownerpages.Config{
		Links: ring, Schedules: schedulev1.NewScheduleServiceClient(c), Reminders: reminderv1.NewReminderServiceClient(c),
		Owners: ownerv1.NewOwnerServiceClient(c), Builds: buildv1.NewBuildServiceClient(c), Bulletins: bulletinv1.NewBulletinServiceClient(c),
		Handbooks: handbookv1.NewHandbookServiceClient(c),
		AsOwner: func(ctx context.Context, person string) context.Context {
			return access.NewContext(ctx, access.Caller{Role: access.Owner, Bearer: "owner, by a link", Person: "people/" + person, Credential: "link"})
		},
		AsService: func(ctx context.Context) context.Context {
			return access.NewContext(ctx, access.Caller{Role: access.Service, Bearer: "owner pages"})
		},
		Address: address, Works: "Aldermoor Works", Telephone: "+44 1632 960983", Clock: func() time.Time { return now }, Logger: slog.New(slog.DiscardHandler),
	}
}

// health is that of a machine with as many jobs and warnings.
func (a amount) health(now time.Time) desk.Health {
	h := desk.Health{Store: desk.StoreHealth{State: "well", File: 9 << 20, InUse: 6 << 20, Quota: 2 << 30, Wait: 3 * time.Millisecond}, Version: "of a test"}
	job, warning := "pass", "A certificate ends in 9 days."
	if a.long {
		job, warning = longer("title", job), longer("text", warning)
	}
	for range max(a.rows, 0) {
		h.Jobs = append(h.Jobs, desk.JobRun{Name: job, Scheduled: now, Begun: now, Finished: now, Tries: 1})
	}
	if a.rows != 0 {
		h.Jobs, h.Warnings = append(h.Jobs, desk.JobRun{Name: job}), []string{warning}
	}
	return h
}

// hidden says what of the page is cut off where nobody can reach it.
func (b *browser) hidden() string {
	b.t.Helper()
	return ask[string](b, `[...document.body.querySelectorAll("*")].filter(e => {
		const s = getComputedStyle(e)
		return s.overflowX == "hidden" && s.clipPath == "none" && e.clientWidth > 1 && e.scrollWidth > e.clientWidth + 1 && !e.closest("svg")
	}).slice(0, 3).map(e => e.outerHTML.slice(0, 160)).join(" … ")`)
}

// eachAmount sets the services to each amount at which a page comes differently
// than before, and calls f.
func (s *site) eachAmount(c *stretched, p sheet, f func(amount)) error {
	var seen []string
	for _, a := range append([]amount{{rows: -1}}, amounts...) {
		a.whole = p.whole
		c.set(a)
		text, err := s.textOf(p)
		if err != nil {
			return err
		}
		if a.name != "" && !slices.Contains(seen, text) {
			f(a)
		}
		seen = append(seen, text)
	}
	return nil
}

// anyRequest is what differs in a page each time it is shown.
var anyRequest = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}`)

// reader is whoever a page is for.
func (s *site) reader(p sheet) *client {
	if c := s.people[p.as]; c != nil {
		return c
	}
	return s.people[nobody]
}

// textOf is a page as it comes, whatever its status.
func (s *site) textOf(p sheet) (string, error) {
	a, err := s.reader(p).get(s.address(p))
	return anyRequest.ReplaceAllString(a.body, ""), err
}

// Every page holds nothing, one thing, 200 things and things with names that are
// longer than anybody planned for: it fits at 320 and 1280 pixels, nothing is cut
// off, and it stays light, because what is long is paged.
func TestNoAmountIsTooMuchForAPage(t *testing.T) {
	racetest.Skip(t, "pages are opened one after the other")
	s, c := theSite(t).stretched(t)
	b := newBrowser(t, s)
	b.shown("light", "screen")
	for _, p := range pages() {
		if p.send != "" || p.book {
			continue
		}
		if err := s.eachAmount(c, p, func(a amount) {
			t.Run(p.name()+"/"+a.name, func(t *testing.T) {
				b.t = t
				b.stretches(p, a)
			})
		}); err != nil {
			t.Fatal(err)
		}
	}
}

// stretches says what is wrong with a page in the amount that is set. That
// something is not there, or not as the page wants it, is for the page to say; that
// it fails is not. With one thing it looks as with many, so that only its status is
// asked for then.
func (b *browser) stretches(p sheet, a amount) {
	b.t.Helper()
	if a.rows == 1 {
		if got, err := b.s.reader(p).get(b.s.address(p)); err != nil || got.status >= http.StatusInternalServerError {
			b.t.Errorf("got %d, %v: %s", got.status, err, got.body)
		}
		return
	}
	b.wide(320)
	if status := b.openAny(p); status >= http.StatusInternalServerError {
		b.t.Fatalf("got %d: %s", status, ask[string](b, `document.body.innerText`))
	}
	for _, width := range []int64{320, 1280} {
		b.wide(width)
		if wide := b.fits(); wide != "" {
			b.t.Errorf("at %d pixels the page is %s", width, wide)
		}
		if cut := b.hidden(); cut != "" {
			b.t.Errorf("at %d pixels is cut off: %s", width, cut)
		}
	}
	if bytes := ask[int](b, `performance.getEntries().reduce((n, e) => n + (e.decodedBodySize || 0), 0)`); bytes > heaviest {
		b.t.Errorf("the page weighs %d bytes with what it loads; at most %d", bytes, heaviest)
	}
}

// amountViews are the widths at which a page in an amount is pictured.
var amountViews = map[string][]int64{"no-rows": {320}, "200-rows": {1280}, "long-names": {320, 1280}}

// amountsInto adds pictures of each page as it is with nothing, with 200 things and
// with long names.
func (s *site) amountsInto(t testing.TB, album *album, of *regexp.Regexp) error {
	other, c := s.stretched(t)
	b := newBrowser(t, other)
	b.shown("light", "screen")
	for _, p := range pages() {
		if p.send != "" || p.book || !of.MatchString(p.name()) {
			continue
		}
		var failed error
		if err := other.eachAmount(c, p, func(a amount) {
			widths := amountViews[a.name]
			if failed != nil || widths == nil {
				return
			}
			b.openAny(p)
			album.begin(p.name() + "." + a.name)
			for _, width := range widths {
				b.wide(width)
				picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
				if failed = errors.Join(err, album.add(fmt.Sprintf("%d-light", width), picture)); failed != nil {
					return
				}
			}
		}); err != nil {
			return err
		}
		if failed != nil {
			return fmt.Errorf("%s: %w", p.name(), failed)
		}
	}
	return nil
}
