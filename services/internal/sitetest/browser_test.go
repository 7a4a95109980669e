package sitetest

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"halfshaft/services/internal/telephone"
)

// browser is a real one, which opens pages as whoever is signed in and keeps what
// it was not content with.
type browser struct {
	t   testing.TB
	s   *site
	ctx context.Context
	as  who // whose cookie it has

	mu         sync.Mutex
	complaints []string
	strangers  []string // addresses on other machines that a page asked for
	document   string   // address of the page itself
}

func newBrowser(t testing.TB, s *site) *browser {
	t.Helper()
	b := &browser{t: t, s: s, ctx: telephone.Browser(t), as: nobody}
	if _, err := chromedp.Call(b.ctx, log.Enable, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Listen(b.ctx, b.hear); err != nil {
		t.Fatal(err)
	}
	return b
}

// hear keeps what the browser complains of, and what a page asks of others.
func (b *browser) hear(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		if u := e.Request.URL; !strings.HasPrefix(u, b.s.desk+"/") && !strings.HasPrefix(u, b.s.owners+"/") && !strings.HasPrefix(u, "data:") {
			b.strangers = append(b.strangers, u)
		}
	case *log.EventEntryAdded:
		// That a page is one of those that say no is no fault of it.
		if e.Entry.Source == log.EntrySourceNetwork && e.Entry.URL == b.document {
			return
		}
		if e.Entry.Level == log.EntryLevelError || e.Entry.Level == log.EntryLevelWarning {
			b.complaints = append(b.complaints, fmt.Sprintf("%s: %s %s", e.Entry.Source, e.Entry.Text, e.Entry.URL))
		}
	case *runtime.EventExceptionThrown:
		b.complaints = append(b.complaints, e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		b.complaints = append(b.complaints, fmt.Sprintf("console.%s", e.Type))
	}
}

// heard gives what came up since it was last asked.
func (b *browser) heard() (complaints, strangers []string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	complaints, strangers, b.complaints, b.strangers = b.complaints, b.strangers, nil, nil
	return complaints, strangers
}

func (b *browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.t.Fatal(err)
	}
}

func ask[T any](b *browser, script string, options ...chromedp.EvaluateOption) T {
	b.t.Helper()
	got, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](script, options...))
	if err != nil {
		b.t.Fatal(err)
	}
	return got
}

// open opens a page as whoever it is for, and sends its form where it says so.
func (b *browser) open(p sheet) {
	b.t.Helper()
	want := p.status
	if want == 0 {
		want = http.StatusOK
	}
	if got := b.openAny(p); got != want {
		b.t.Errorf("%s: got %d, want %d: %s", p.name(), got, want, ask[string](b, `document.body.innerText`))
	}
}

// openAny is open for a page of which is not known with which status it comes,
// and gives that.
func (b *browser) openAny(p sheet) int {
	b.t.Helper()
	b.become(p.as)
	address := b.s.address(p)
	b.expect(address)
	a, err := chromedp.Run(b.ctx, chromedp.NavigateResponse(address))
	if err != nil {
		b.t.Fatalf("%s: %v", p.name(), err)
	}
	if p.send != "" {
		b.expect(ask[string](b, fmt.Sprintf(`document.querySelector(%q)?.action ?? ""`, p.send)))
		send := chromedp.Action[chromedp.Void](func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
			_, err := chromedp.Evaluate[bool](fmt.Sprintf(`(HTMLFormElement.prototype.submit.call(document.querySelector(%q)), true)`, p.send))(ctx, t)
			return chromedp.Void{}, err
		})
		if a, err = chromedp.RunResponse(b.ctx, send); err != nil {
			b.t.Fatalf("%s: %v", p.name(), err)
		}
	}
	return int(a.Status)
}

// expect says which address the page itself has.
func (b *browser) expect(address string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.document = address
}

// become takes the cookie of somebody else.
func (b *browser) become(as who) {
	b.t.Helper()
	if languages[as] != "" {
		return // links need none
	}
	if as == b.as && as != nobody { // nobody begins anew each time
		return
	}
	if _, err := chromedp.Call(b.ctx, network.ClearBrowserCookies, cdp.Empty{}); err != nil {
		b.t.Fatal(err)
	}
	b.as = as
	c := b.s.people[as].cookie()
	if c == nil {
		return
	}
	yes := true
	if _, err := chromedp.Call(b.ctx, network.SetCookie, network.SetCookieParams{
		Name: c.Name, Value: c.Value, URL: b.s.desk + "/", Path: "/", Secure: &yes, HTTPOnly: &yes, SameSite: network.CookieSameSiteLax,
	}); err != nil {
		b.t.Fatalf("the cookie of %s: %v", as, err)
	}
}

// wide makes the window another width, by day or by night.
func (b *browser) wide(width int64) {
	b.t.Helper()
	b.do(chromedp.EmulateViewport(width, 900))
}

// shown says how the page is shown: by day ("light"), by night ("dark"), or on
// paper.
func (b *browser) shown(scheme, medium string) {
	b.t.Helper()
	p := emulation.SetEmulatedMediaParams{Media: medium, Features: []*emulation.MediaFeature{
		{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"},
	}}
	if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, p); err != nil {
		b.t.Fatal(err)
	}
}
