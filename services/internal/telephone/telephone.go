// Package telephone gives tests a narrow browser in the hand of somebody who
// finds things by what is written on them.
package telephone

import (
	"cmp"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// Browser starts a headless browser, or skips the test where there is none.
// HALFSHAFT_CHROMIUM names one; without it, it is chromium in PATH. In CI there
// must be one.
func Browser(t testing.TB) context.Context {
	t.Helper()
	path, err := exec.LookPath(cmp.Or(os.Getenv("HALFSHAFT_CHROMIUM"), "chromium"))
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("no browser; set HALFSHAFT_CHROMIUM to one")
		}
		t.Skip("no browser: set HALFSHAFT_CHROMIUM to one, or have chromium in PATH")
	}
	ctx, stop := chromedp.NewContext(t.Context(), chromedp.WithAllocatorOptions(chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU))
	t.Cleanup(stop)
	// Only a browser that hangs meets this limit.
	ctx, stop = context.WithTimeout(ctx, 10*time.Minute)
	t.Cleanup(stop)
	return ctx
}

// Telephone is a narrow browser without scripts. What it does not find fails
// the test.
type Telephone struct {
	// Name is that of its pictures, which HALFSHAFT_SHOTS names a directory for;
	// "" for none.
	Name string

	t     testing.TB
	ctx   context.Context
	width int64
	shots int
}

// New makes one of a width in CSS pixels, by day ("light") or by night ("dark").
// It is gone when the test ends.
func New(t testing.TB, width int64, scheme string) *Telephone {
	t.Helper()
	p := &Telephone{t: t, ctx: Browser(t), width: width}
	p.do(chromedp.EmulateViewport(width, 740))
	if _, err := chromedp.Call(p.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	media := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}
	if _, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, media); err != nil {
		t.Fatal(err)
	}
	return p
}

func (p *Telephone) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	if err := chromedp.Do(p.ctx, steps...); err != nil {
		p.t.Fatal(err)
	}
}

// Ask evaluates a script of the test on the page. The page's own stay off.
func Ask[T any](p *Telephone, script string) T {
	p.t.Helper()
	seen, err := chromedp.Run(p.ctx, chromedp.Evaluate[T](script))
	if err != nil {
		p.t.Fatal(err)
	}
	return seen
}

// Open opens an address and looks at the page.
func (p *Telephone) Open(address string) {
	p.t.Helper()
	p.do(chromedp.Navigate(address))
	p.Look()
}

// Look holds a page to what a narrow telephone needs, and takes a picture where
// HALFSHAFT_SHOTS says, for people to look at.
func (p *Telephone) Look() {
	p.t.Helper()
	title := Ask[string](p, `document.querySelector("h1").innerText`)
	if wide := Ask[int64](p, `document.documentElement.scrollWidth`); wide > p.width {
		p.t.Errorf("%s: the page is %d wide", title, wide)
	}
	// WCAG 2.2, 2.5.8: at least 24 CSS pixels; 44 is what a thumb hits (2.5.5).
	if small := Ask[string](p, `[...document.querySelectorAll("button, .press, input:not([type=hidden]):not([type=radio]):not([type=checkbox]), select, label.pick")]
		.filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 80)).join("; ")`); small != "" {
		p.t.Errorf("%s: too small for a thumb: %s", title, small)
	}
	if dir := os.Getenv("HALFSHAFT_SHOTS"); dir != "" && p.Name != "" {
		p.shots++
		picture, err := chromedp.Run(p.ctx, chromedp.FullScreenshot(100))
		if err != nil {
			p.t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%02d.png", p.Name, p.shots)), picture, 0o644); err != nil {
			p.t.Fatal(err)
		}
	}
}

// mark gives what is written on something an identifier of its own, and gives
// the selector; the page's own scripts are off, the test's are not.
func (p *Telephone) mark(what, find string) chromedp.CSS {
	p.t.Helper()
	if !Ask[bool](p, `(() => { document.querySelectorAll("[data-test]").forEach(e => e.removeAttribute("data-test")); const e = `+find+`; if (!e) return false; e.setAttribute("data-test", "it"); return true })()`) {
		p.t.Fatalf("no %s on: %s", what, Ask[string](p, `document.body.innerText`))
	}
	return chromedp.CSS("[data-test=it]")
}

// Press presses the button or link with a label, and looks at what comes.
func (p *Telephone) Press(label string) {
	p.t.Helper()
	at := p.mark("button "+label, fmt.Sprintf(`[...document.querySelectorAll("button, a")].find(e => e.innerText.trim() == %q)`, label))
	if _, err := chromedp.RunResponse(p.ctx, chromedp.Click(at)); err != nil {
		p.t.Fatal(err)
	}
	p.Look()
}

// Pick ticks or chooses what has a label.
func (p *Telephone) Pick(label string) {
	p.t.Helper()
	p.do(chromedp.Click(p.mark("choice "+label, fmt.Sprintf(`[...document.querySelectorAll("label.pick")].find(e => e.innerText.trim().startsWith(%q))?.querySelector("input")`, label))))
}

// PickOf chooses an answer to a question.
func (p *Telephone) PickOf(question, label string) {
	p.t.Helper()
	p.do(chromedp.Click(p.mark("answer to "+question, fmt.Sprintf(
		`[...[...document.querySelectorAll("fieldset")].find(f => f.querySelector("legend").innerText.includes(%q))?.querySelectorAll("label.pick") ?? []].find(e => e.innerText.trim() == %q)?.querySelector("input")`, question, label))))
}

const byLabel = `[...document.querySelectorAll("label")].find(e => e.innerText.trim() == %q)?.control`

// Enter types into the field with a label, in place of what is there.
func (p *Telephone) Enter(label, text string) {
	p.t.Helper()
	at := p.mark("field "+label, fmt.Sprintf(byLabel, label))
	Ask[bool](p, `(document.querySelector("[data-test=it]").value = "", true)`)
	p.do(chromedp.SendKeys(at, text))
}

// Set gives a date field or a list a value: browsers have their own pickers.
func (p *Telephone) Set(label, value string) {
	p.t.Helper()
	p.mark("field "+label, fmt.Sprintf(byLabel, label))
	Ask[bool](p, fmt.Sprintf(`(document.querySelector("[data-test=it]").value = %q, true)`, value))
}

// Attach chooses files in the field with a label.
func (p *Telephone) Attach(label string, files ...string) {
	p.t.Helper()
	p.do(chromedp.SetUploadFiles(p.mark("field "+label, fmt.Sprintf(byLabel, label)), files))
}

// Says wants words on the page.
func (p *Telephone) Says(words ...string) {
	p.t.Helper()
	text := Ask[string](p, `document.body.innerText.replaceAll(/\s+/g, " ")`)
	for _, want := range words {
		if !strings.Contains(text, want) {
			p.t.Errorf("without %q: %s", want, text)
		}
	}
}
