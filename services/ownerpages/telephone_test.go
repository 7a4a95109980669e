package ownerpages_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"halfshaft/services/internal/links"
)

// narrow is the narrowest telephone that is still about, in CSS pixels: common
// practice, no source.
const narrow = 320

// telephone makes the browser a narrow one without scripts, by day or by
// night.
func telephone(t *testing.T, scheme string) context.Context {
	t.Helper()
	ctx := browser(t)
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(narrow, 640)); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	media := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}
	if _, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, media); err != nil {
		t.Fatal(err)
	}
	return ctx
}

// keep takes a picture where HALFSHAFT_SHOTS says, for people to look at.
func keep(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	if dir := os.Getenv("HALFSHAFT_SHOTS"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, name+".png"), look(t, ctx, chromedp.FullScreenshot(100)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func TestThePagesServeANarrowTelephoneWithoutScriptsByDayAndNight(t *testing.T) {
	button, title := chromedp.CSS("button"), chromedp.CSS("h1")
	// The colours are those of style.css: --act by day and by night.
	for scheme, colour := range map[string]string{"light": "rgb(47, 93, 58)", "dark": "rgb(143, 194, 154)"} {
		d, server := newDesk(t)
		ctx := telephone(t, scheme)
		for purpose, thanks := range map[links.Purpose]string{links.Odometer: "Thank you", links.Unsubscribe: "Service reminders are stopped"} {
			before := d.changes()
			if err := chromedp.Do(ctx, chromedp.Navigate(server.URL+"/l/"+token(t, purpose, now.Add(time.Hour)))); err != nil {
				t.Fatal(err)
			}
			keep(t, ctx, scheme+"-"+string(rune(purpose)))
			if got := look(t, ctx, chromedp.Evaluate[string](`getComputedStyle(document.querySelector("button")).backgroundColor`)); got != colour {
				t.Errorf("%s %c: the button is %s", scheme, purpose, got)
			}
			if wide := look(t, ctx, chromedp.Evaluate[int](`document.documentElement.scrollWidth`)); wide > narrow {
				t.Errorf("%s %c: the page is %d wide", scheme, purpose, wide)
			}
			if bare := look(t, ctx, chromedp.Evaluate[int](`[...document.querySelectorAll("input:not([type=hidden]), select")].filter(e => e.labels.length == 0).length`)); bare > 0 {
				t.Errorf("%s %c: %d fields have no label", scheme, purpose, bare)
			}
			if d.changes() != before {
				t.Errorf("%s %c: looking at the page changed something", scheme, purpose)
			}
			if purpose == links.Odometer {
				if err := chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS("#value"), "11410.5")); err != nil {
					t.Fatal(err)
				}
			}
			answer, err := chromedp.RunResponse(ctx, chromedp.Click(button))
			if err != nil {
				t.Fatal(err)
			}
			keep(t, ctx, scheme+"-"+string(rune(purpose))+"-answer")
			if got := look(t, ctx, chromedp.Text(title)); answer.Status != 200 || got != thanks || d.changes() != before+1 {
				t.Errorf("%s %c: got %d, %q and %d changes", scheme, purpose, answer.Status, got, d.changes()-before)
			}
		}
	}
}
