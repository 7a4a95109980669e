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

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/links"
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

// TestAnOwnerGoesFromTheMailToTheSilencedReminder goes the whole way on a
// telephone without scripts. HALFSHAFT_WALK names the address of a schedule
// link of a running works to walk there instead; its reader's language is
// English, and its vehicle has work coming up.
func TestAnOwnerGoesFromTheMailToTheSilencedReminder(t *testing.T) {
	p := newTelephone(t, 360, "light")
	address := os.Getenv("HALFSHAFT_WALK")
	d, server := newDesk(t)
	d.read("2026-04-01", "12000", "km")
	if address == "" {
		address = link(t, server, links.Schedule)
	}
	p.name = "walk"

	p.open(address)
	p.press("Report the odometer")
	p.enter("Odometer", "12,345")
	p.press("Send")
	if ask[bool](p, `document.body.innerText.includes("Is it right?")`) { // a running works may have another vehicle
		p.press("It is right, send it")
	}
	p.says("Thank you", "12,345")
	p.press("See what is due")
	p.press("It is booked")
	today, err := time.Parse(time.DateOnly, ask[string](p, `document.getElementById("day").min`))
	if err != nil {
		t.Fatal(err)
	}
	p.set("Day", today.AddDate(0, 0, 10).Format(time.DateOnly))
	p.enter("Workshop, if you like", "Harbour Garage")
	p.press("Send")
	p.says("Thank you", "Harbour Garage", "nobody is reminded")
	p.press("Take this back")
	p.says("Taken back")
	p.press("See what is due")
	p.press("Not now, later")
	p.pick("in 14 days")
	p.press("Send")
	p.says("Thank you", "we do not remind you")
	p.press("See what is due")
	p.press("It is done")
	p.enter("Who did it, if you like", "Harbour Garage")
	p.press("Send")
	p.says("Thank you", "may ask you for the papers", "next by")
	p.press("See what is due")

	if os.Getenv("HALFSHAFT_WALK") != "" {
		return
	}
	p.says("Nothing is to be done now.")
	if len(d.entries) != 1 || len(d.entries[0].GetItems()) != 2 || len(d.answers) != 3 || len(d.readings) != 2 {
		t.Errorf("%d entries, %d answers, %d readings", len(d.entries), len(d.answers), len(d.readings))
	}
	if last := d.answers[2]; last.GetKind() != reminderv1.AnswerKind_ANSWER_KIND_DONE || last.GetServiceEntry() != d.entries[0].GetName() || d.answers[0].GetWithdrawTime() == nil {
		t.Errorf("answered %v", d.answers)
	}
}

// longName is what people are called.
const longName = "Freifrau Wilhelmine-Charlotte von Oberndörffer-Kastenbein zu Hohenbruck-Sandelmühle"

// TestEveryPageServesANarrowTelephoneByDayAndNight looks at every page in both
// languages, with long names, on the narrowest telephone that is still about
// (320 pixels: common practice, no source), and goes through the forms.
func TestEveryPageServesANarrowTelephoneByDayAndNight(t *testing.T) {
	for _, c := range []struct{ scheme, language, colour string }{
		// The colours are those of style.css: --act by day and by night.
		{"light", "de-DE", "rgb(47, 93, 58)"}, {"dark", "en-GB", "rgb(143, 194, 154)"},
	} {
		d, server := newDesk(t)
		d.person = &ownerv1.Person{Language: c.language, DistanceUnit: "mi", TimeZone: "Europe/Berlin"}
		d.read("2026-05-15", "12000", "km")
		d.layUpEnd = "2026-06-05"
		d.answers = []*reminderv1.Answer{}
		p := newTelephone(t, 320, c.scheme)
		p.name = c.scheme + "-" + c.language
		before := d.count()
		for _, purpose := range purposes {
			p.open(link(t, server, purpose))
			if lang := ask[string](p, `document.documentElement.lang`); lang != c.language[:2] {
				t.Errorf("%c is in %s", purpose, lang)
			}
			if button := ask[string](p, `getComputedStyle(document.querySelector("button, .press")).borderColor + getComputedStyle(document.querySelector("button") ?? document.body).backgroundColor`); !strings.Contains(button, c.colour) {
				t.Errorf("%s %c: the button is %s", c.scheme, purpose, button)
			}
		}
		p.open(server.URL + "/take-over?language=" + c.language[:2])
		p.open(server.URL + "/l/dead")
		if d.count() != before {
			t.Errorf("%d changes by looking", d.count()-before)
		}
		german := c.language == "de-DE"
		word := func(english, other string) string {
			if german {
				return other
			}
			return english
		}
		send := word("Send", "Absenden")
		p.open(link(t, server, links.Odometer))
		p.enter(word("Odometer", "Zählerstand"), word("18.437", "18,437"))
		p.press(send)
		p.pick(word("18,437 km", "18.437 km"))
		p.press(send)
		p.says(word("Is it right?", "Stimmt es?"))
		d.state = schedulev1.ReadingState_READING_STATE_DOUBTFUL
		p.press(word("It is right, send it", "Es stimmt, absenden"))
		p.open(link(t, server, links.Booked))
		p.set(word("Day", "Tag"), "2026-06-02")
		p.enter(word("Workshop, if you like", "Werkstatt, wenn Sie mögen"), longName)
		p.press(send)
		p.open(link(t, server, links.Booked))
		p.open(link(t, server, links.Transfer))
		p.press(word("Make the code", "Den Code machen"))
		p.open(link(t, server, links.Calendar))
		p.press(word("Make the address", "Die Adresse machen"))
		p.open(link(t, server, links.Unsubscribe))
		p.press(word("Stop the reminders", "Erinnerungen beenden"))
		p.open(server.URL + "/take-over?language=" + c.language[:2])
		p.enter(word("Serial of the vehicle", "Seriennummer des Fahrzeugs"), "AM 0147 P")
		p.enter("Code", "wrong")
		p.enter(word("Your name", "Ihr Name"), longName)
		p.set(word("Country", "Land"), "Europe/Berlin")
		p.pickOf(word("by mail", "per Mail"), word("No", "Nein"))
		p.pickOf(word("by text message", "per Textnachricht"), word("No", "Nein"))
		p.pickOf(word("at the end of each year", "am Ende jedes Jahres"), word("No", "Nein"))
		p.press(word("Take it over", "Übernehmen"))
		p.enter("Code", "7Q4K-M2XW-9TRC")
		p.press(word("Take it over", "Übernehmen"))
		p.says(word("Welcome", "Willkommen"))
	}
}

// TestTheBrowsersOwnChecksGoWithTheForms shows what no request by hand does.
func TestTheBrowsersOwnChecksGoWithTheForms(t *testing.T) {
	d, server := newDesk(t)
	p := newTelephone(t, 360, "light")
	p.open(link(t, server, links.Booked))
	if ask[bool](p, `document.querySelector("form").checkValidity()`) {
		t.Error("a booking without a day passes")
	}
	p.set("Day", "2026-05-17")
	if ask[bool](p, `document.querySelector("form").checkValidity()`) {
		t.Error("a booking for yesterday passes")
	}
	p.set("Day", "2026-05-18")
	if !ask[bool](p, `document.querySelector("form").checkValidity()`) || d.count() != 0 {
		t.Error("a booking for today does not pass")
	}
}
