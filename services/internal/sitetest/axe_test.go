package sitetest

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"halfshaft/services/internal/racetest"
)

// axeScript is what looks for faults of accessibility: axe-core, which .ci/axe
// fetches and HALFSHAFT_AXE names; "" where it is left out. In CI it must be there.
func axeScript(t testing.TB) string {
	t.Helper()
	path := os.Getenv("HALFSHAFT_AXE")
	if path == "" {
		if os.Getenv("CI") != "" {
			t.Fatal("no axe-core; set HALFSHAFT_AXE to its axe.min.js")
		}
		t.Log("left out: what axe says of the pages. Set HALFSHAFT_AXE to its axe.min.js, which .ci/axe fetches")
		return ""
	}
	script, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(script)
}

// axeRules are those of WCAG 2.2 at levels A and AA with what it took over from
// 2.0 and 2.1, and what axe has for good practice besides.
const axeRules = `{type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}`

// colourRules are those among them that look at colours. By day and by night a
// page has the same elements in the same places, so that the others are asked once
// for each width.
const colourRules = `{type: "rule", values: ["color-contrast", "link-in-text-block"]}`

// looks are what axe is asked in which light, at each width.
var looks = map[int64]map[string]string{
	320:  {"light": axeRules, "dark": colourRules},
	1280: {"light": colourRules, "dark": axeRules},
}

// violation is a rule that a page breaks, and where.
type violation struct {
	ID, Help string
	Nodes    []struct {
		HTML, FailureSummary string
	}
}

func (v violation) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s", v.ID, v.Help)
	for i, n := range v.Nodes {
		if i == 3 {
			fmt.Fprintf(&b, "\n  and %d more", len(v.Nodes)-i)
			break
		}
		fmt.Fprintf(&b, "\n  %s\n    %s", n.HTML, strings.ReplaceAll(n.FailureSummary, "\n", "\n    "))
	}
	return b.String()
}

// faults asks axe about the page.
func (b *browser) faults(rules string) []violation {
	b.t.Helper()
	said := ask[string](b, `axe.run(document, {runOnly: `+rules+`, resultTypes: ["violations"]}).then(r => JSON.stringify(r.violations))`, chromedp.EvalAwaitPromise)
	var all []violation
	if err := json.Unmarshal([]byte(said), &all); err != nil {
		b.t.Fatal(err)
	}
	return all
}

// fits says what of the page is wider than the window; "" for nothing.
func (b *browser) fits() string {
	b.t.Helper()
	return ask[string](b, `(() => {
		const root = document.documentElement
		if (root.scrollWidth <= root.clientWidth) return ""
		const wide = [...document.body.querySelectorAll("*")].filter(e => e.getBoundingClientRect().right > root.clientWidth + 1 && !e.closest("svg *"))
		return root.scrollWidth + " wide: " + wide.slice(-3).map(e => e.outerHTML.slice(0, 120)).join(" … ")
	})()`)
}

// Every page, by day and by night, at 320 and 1280 pixels, and at the 640 that are
// left of 1280 where everything is twice as large (WCAG 2.2, 1.4.4 and 1.4.10).
func TestNoPageHasAFaultThatAMachineSees(t *testing.T) {
	racetest.Skip(t, "pages are opened one after the other")
	s, axe := theSite(t), axeScript(t)
	b := newBrowser(t, s)
	for _, p := range pages() {
		t.Run(p.name(), func(t *testing.T) {
			b.t = t
			b.wide(320)
			b.shown("light", "screen")
			b.open(p)
			if axe != "" {
				ask[bool](b, axe+"; true")
			}
			for _, width := range []int64{320, 640, 1280} {
				b.wide(width)
				if wide := b.fits(); wide != "" {
					t.Errorf("at %d pixels the page is %s", width, wide)
				}
				if axe == "" {
					continue
				}
				for scheme, rules := range looks[width] {
					b.shown(scheme, "screen")
					for _, v := range b.faults(rules) {
						t.Errorf("%d pixels, %s: %v", width, scheme, v)
					}
				}
			}
			complaints, strangers := b.heard()
			for _, c := range complaints {
				t.Errorf("the browser says: %s", c)
			}
			for _, x := range strangers {
				t.Errorf("the page asks somebody else: %s", x)
			}
		})
	}
}
