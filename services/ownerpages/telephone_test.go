package ownerpages_test

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

// browser starts a headless browser, or skips the test where there is none.
func browser(t *testing.T) context.Context {
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
	ctx, stop = context.WithTimeout(ctx, 3*time.Minute)
	t.Cleanup(stop)
	return ctx
}

// telephone is a narrow browser without scripts that finds things by what is
// written on them, as a person does.
type telephone struct {
	t     *testing.T
	ctx   context.Context
	width int64
	name  string // of its pictures; "" for none
	shots int
}

// newTelephone makes one of a width in CSS pixels, by day ("light") or by night
// ("dark").
func newTelephone(t *testing.T, width int64, scheme string) *telephone {
	t.Helper()
	p := &telephone{t: t, ctx: browser(t), width: width}
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

func (p *telephone) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	if err := chromedp.Do(p.ctx, steps...); err != nil {
		p.t.Fatal(err)
	}
}

func ask[T any](p *telephone, script string) T {
	p.t.Helper()
	seen, err := chromedp.Run(p.ctx, chromedp.Evaluate[T](script))
	if err != nil {
		p.t.Fatal(err)
	}
	return seen
}

// open opens an address and looks at the page.
func (p *telephone) open(address string) {
	p.t.Helper()
	p.do(chromedp.Navigate(address))
	p.look()
}

// look holds a page to what a narrow telephone needs, and takes a picture where
// HALFSHAFT_SHOTS says, for people to look at.
func (p *telephone) look() {
	p.t.Helper()
	title := ask[string](p, `document.querySelector("h1").innerText`)
	if wide := ask[int64](p, `document.documentElement.scrollWidth`); wide > p.width {
		p.t.Errorf("%s: the page is %d wide", title, wide)
	}
	// WCAG 2.2, 2.5.8: at least 24 CSS pixels; 44 is what a thumb hits (2.5.5).
	if small := ask[string](p, `[...document.querySelectorAll("button, .press, input:not([type=hidden]):not([type=radio]):not([type=checkbox]), select, label.pick")]
		.filter(e => e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 80)).join("; ")`); small != "" {
		p.t.Errorf("%s: too small for a thumb: %s", title, small)
	}
	if dir := os.Getenv("HALFSHAFT_SHOTS"); dir != "" && p.name != "" {
		p.shots++
		picture, err := chromedp.Run(p.ctx, chromedp.FullScreenshot(100))
		if err != nil {
			p.t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%02d.png", p.name, p.shots)), picture, 0o644); err != nil {
			p.t.Fatal(err)
		}
	}
}

// mark gives what is written on something an identifier of its own, and gives
// the selector; the page's own scripts are off, the test's are not.
func (p *telephone) mark(what, find string) chromedp.CSS {
	p.t.Helper()
	if !ask[bool](p, `(() => { document.querySelectorAll("[data-test]").forEach(e => e.removeAttribute("data-test")); const e = `+find+`; if (!e) return false; e.setAttribute("data-test", "it"); return true })()`) {
		p.t.Fatalf("no %s on: %s", what, ask[string](p, `document.body.innerText`))
	}
	return chromedp.CSS("[data-test=it]")
}

// press presses the button or link with a label, and looks at what comes.
func (p *telephone) press(label string) {
	p.t.Helper()
	at := p.mark("button "+label, fmt.Sprintf(`[...document.querySelectorAll("button, a")].find(e => e.innerText.trim() == %q)`, label))
	if _, err := chromedp.RunResponse(p.ctx, chromedp.Click(at)); err != nil {
		p.t.Fatal(err)
	}
	p.look()
}

// pick ticks or chooses what has a label.
func (p *telephone) pick(label string) {
	p.t.Helper()
	p.do(chromedp.Click(p.mark("choice "+label, fmt.Sprintf(`[...document.querySelectorAll("label.pick")].find(e => e.innerText.trim().startsWith(%q))?.querySelector("input")`, label))))
}

// pickOf chooses an answer to a question.
func (p *telephone) pickOf(question, label string) {
	p.t.Helper()
	p.do(chromedp.Click(p.mark("answer to "+question, fmt.Sprintf(
		`[...[...document.querySelectorAll("fieldset")].find(f => f.querySelector("legend").innerText.includes(%q))?.querySelectorAll("label.pick") ?? []].find(e => e.innerText.trim() == %q)?.querySelector("input")`, question, label))))
}

const byLabel = `[...document.querySelectorAll("label")].find(e => e.innerText.trim() == %q)?.control`

// enter types into the field with a label, in place of what is there.
func (p *telephone) enter(label, text string) {
	p.t.Helper()
	at := p.mark("field "+label, fmt.Sprintf(byLabel, label))
	ask[bool](p, `(document.querySelector("[data-test=it]").value = "", true)`)
	p.do(chromedp.SendKeys(at, text))
}

// set gives a date field or a list a value: browsers have their own pickers.
func (p *telephone) set(label, value string) {
	p.t.Helper()
	p.mark("field "+label, fmt.Sprintf(byLabel, label))
	ask[bool](p, fmt.Sprintf(`(document.querySelector("[data-test=it]").value = %q, true)`, value))
}

// says wants words on the page.
func (p *telephone) says(words ...string) {
	p.t.Helper()
	text := ask[string](p, `document.body.innerText.replaceAll(/\s+/g, " ")`)
	for _, want := range words {
		if !strings.Contains(text, want) {
			p.t.Errorf("without %q: %s", want, text)
		}
	}
}
