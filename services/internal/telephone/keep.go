package telephone

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/chromedp"
)

// Kept is a file that a browser kept.
type Kept struct {
	Name  string // that the page suggested
	Bytes []byte
}

// Keep presses the link with a label whose file the browser is to keep, and gives
// the file.
func (p *Telephone) Keep(label string) Kept {
	p.t.Helper()
	dir := p.t.TempDir()
	name := ""
	ended := make(chan *browser.EventDownloadProgress, 1)
	listening, deaf := context.WithCancel(p.ctx)
	defer deaf()
	err := chromedp.Listen(listening, func(event any) {
		switch e := event.(type) {
		case *browser.EventDownloadWillBegin:
			name = e.SuggestedFilename // before the other event, by the same goroutine
		case *browser.EventDownloadProgress:
			if e.State == browser.DownloadProgressStateInProgress {
				return
			}
			select {
			case ended <- e:
			default: // it was told already
			}
		}
	})
	if err != nil {
		p.t.Fatal(err)
	}
	allow := browser.SetDownloadBehaviorParams{Behavior: browser.SetDownloadBehaviorBehaviorAllowAndName, DownloadPath: dir, EventsEnabled: new(true)}
	if _, err := chromedp.Call(p.ctx, browser.SetDownloadBehavior, allow); err != nil {
		p.t.Fatal(err)
	}
	p.do(chromedp.Click(p.mark("file "+label, fmt.Sprintf(`[...document.querySelectorAll("a")].find(e => e.innerText.trim() == %q)`, label))))
	limit, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	select {
	case e := <-ended:
		content, err := os.ReadFile(filepath.Join(dir, e.GUID))
		if err != nil || e.State != browser.DownloadProgressStateCompleted {
			p.t.Fatalf("%s: the file is %s: %v", label, e.State, err)
		}
		return Kept{name, content}
	case <-limit.Done():
		p.t.Fatalf("%s was pressed, and no file came", label)
	}
	return Kept{}
}
