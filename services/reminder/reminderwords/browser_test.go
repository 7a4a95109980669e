package reminderwords

import (
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"halfshaft/services/internal/telephone"
)

// narrow is the width, in CSS pixels, to which a page must reflow without
// scrolling sideways (WCAG 2.2 success criterion 1.4.10).
const narrow = 320

func look[T any](t *testing.T, ctx context.Context, a chromedp.Action[T]) T {
	t.Helper()
	seen, err := chromedp.Run(ctx, a)
	if err != nil {
		t.Fatal(err)
	}
	return seen
}

// mailbox shows mails to a browser and notes what else is asked for.
type mailbox struct {
	mu     sync.Mutex
	pages  map[string]string
	others []string
}

func (m *mailbox) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	m.mu.Lock()
	defer m.mu.Unlock()
	page, ok := m.pages[r.URL.Path]
	if !ok {
		if r.URL.Path != "/favicon.ico" { // browsers ask for it by themselves
			m.others = append(m.others, r.URL.Path)
		}
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Write([]byte(page))
}

// faults are what a reader of a narrow window would stumble over: words that
// run out of it, words that cannot be told from their ground (WCAG 2.2 success
// criterion 1.4.3), and links too small to hit (2.5.8: 24 by 24 pixels).
const faults = `(() => {
	const found = [];
	if (document.documentElement.scrollWidth > innerWidth) found.push("scrolls sideways: " + document.documentElement.scrollWidth);
	const parts = c => c.match(/[\d.]+/g).map(Number);
	const lum = c => parts(c).slice(0, 3).map(v => v / 255).map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
		.reduce((s, v, i) => s + v * [0.2126, 0.7152, 0.0722][i], 0);
	const ground = e => { for (; e; e = e.parentElement) { const b = getComputedStyle(e).backgroundColor; if ((parts(b)[3] ?? 1) > 0) return b; } return "rgb(255,255,255)"; };
	const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	for (let n; n = walk.nextNode();) {
		if (!n.data.trim()) continue;
		const e = n.parentElement, a = lum(getComputedStyle(e).color), b = lum(ground(e));
		const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
		if (ratio < 4.5) found.push("contrast " + ratio.toFixed(2) + ": " + n.data.trim());
		if (parseFloat(getComputedStyle(e).fontSize) < 14) found.push("small: " + n.data.trim());
	}
	for (const a of document.links) { const r = a.getBoundingClientRect(); if (r.height < 24 || r.width < 24) found.push("small link: " + a.textContent); }
	return found.join("; ");
})()`

// TestMailsFitATelephone looks at every letter in a browser, 320 pixels wide,
// in the light and in the dark. With HALFSHAFT_SHOTS set to a directory it
// leaves pictures there for a person to look at.
func TestMailsFitATelephone(t *testing.T) {
	ctx := telephone.Browser(t)
	r := renderer(t, aldermoorWords)
	box := &mailbox{pages: map[string]string{}}
	add := func(name string, l Letter) {
		box.pages["/"+name] = mailOf(t, r, l).HTML
		box.pages["/"+name+"-de"] = mailOf(t, r, inGerman(l)).HTML
	}
	for name, make := range letters {
		add(name, make(t))
	}
	add("many", many(t, 40))
	long := earlyOil(t)
	long.Draft.To.Name = strings.Repeat("Featherstonehaugh", 8)
	long.Draft.Lines[0].Item.Title = strings.Repeat("Donaudampfschifffahrt", 6)
	long.Links.Schedule += strings.Repeat("x", 400)
	add("long", long)
	server := httptest.NewServer(box)
	defer server.Close()

	if err := chromedp.Do(ctx, chromedp.EmulateViewport(narrow, 640)); err != nil {
		t.Fatal(err)
	}
	for _, scheme := range []string{"light", "dark"} {
		media := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}
		if _, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, media); err != nil {
			t.Fatal(err)
		}
		for path := range box.pages {
			if err := chromedp.Do(ctx, chromedp.Navigate(server.URL+path)); err != nil {
				t.Fatal(err)
			}
			if width := look(t, ctx, chromedp.Evaluate[int]("innerWidth")); width != narrow {
				t.Fatalf("the window is %d wide", width)
			}
			if found := look(t, ctx, chromedp.Evaluate[string](faults)); found != "" {
				t.Errorf("%s, %s: %s", path, scheme, found)
			}
			if dir := os.Getenv("HALFSHAFT_SHOTS"); dir != "" {
				name := filepath.Join(dir, strings.TrimPrefix(path, "/")+"-"+scheme+".png")
				if err := os.WriteFile(name, look(t, ctx, chromedp.FullScreenshot(100)), 0o644); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	box.mu.Lock()
	defer box.mu.Unlock()
	if len(box.others) > 0 {
		t.Errorf("the mails fetched %v", box.others)
	}
}

func TestTheLongestMailCanBeSealed(t *testing.T) {
	m := mailOf(t, renderer(t, aldermoorWords), inGerman(many(t, 40)))
	// What is sealed may have 200 KiB; quoted-printable adds to it, two bytes
	// for each of the rare letters outside ASCII and line ends.
	if size := len(m.Text) + len(m.HTML); size > 150<<10 {
		t.Errorf("forty items make %d bytes", size)
	} else {
		t.Logf("forty items make %d bytes", size)
	}
	if n := len(many(t, 40).Draft.Lines); n != 40 {
		t.Errorf("got %d items", n)
	}
}
