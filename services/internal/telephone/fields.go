package telephone

import (
	"context"
	"fmt"

	"github.com/chromedp/chromedp"
)

// Choose chooses what is written in a list with a label.
func (p *Telephone) Choose(label, text string) {
	p.t.Helper()
	p.mark("list "+label, fmt.Sprintf(byLabel, label))
	if !Ask[bool](p, fmt.Sprintf(`(() => { const e = document.querySelector("[data-test=it]"); const o = [...e.options].find(o => o.text.trim() == %q); if (!o) return false; e.value = o.value; return true })()`, text)) {
		p.t.Fatalf("no %q in the list %s: %s", text, label, Ask[string](p, `document.querySelector("[data-test=it]").innerText`))
	}
}

// LeaveAndRead goes on from the field that is typed into, and waits until a
// script of the page has said something.
func (p *Telephone) LeaveAndRead(says string) {
	p.t.Helper()
	Ask[bool](p, `(document.activeElement.blur(), true)`)
	p.Await(says)
	p.Look()
}

// Await waits until the page, or the one that it leads to, says something.
func (p *Telephone) Await(says string) {
	p.t.Helper()
	limit, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	for {
		// While the page changes there is none to ask.
		here, err := chromedp.Run(limit, chromedp.Evaluate[bool](fmt.Sprintf(`document.readyState == "complete" && document.body.innerText.includes(%q)`, says)))
		if err == nil && here {
			return
		}
		if limit.Err() != nil {
			p.t.Fatalf("without %q: %s", says, Ask[string](p, `document.body.innerText`))
		}
	}
}

// Key presses a key of the keyboard, wherever the focus is: "/", kb.Tab.
func (p *Telephone) Key(key string) {
	p.t.Helper()
	p.do(chromedp.KeyEvent(key))
}

// Focus says what has the focus: what is written on it, or the label of a field.
func (p *Telephone) Focus() string {
	p.t.Helper()
	return Ask[string](p, `(e => e.labels?.[0]?.innerText ?? e.innerText ?? "")(document.activeElement).trim()`)
}
