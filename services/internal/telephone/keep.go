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
	begun, ended := make(chan string, 8), make(chan *browser.EventDownloadProgress, 64)
	err := chromedp.ListenBrowser(p.ctx, func(event any) {
		switch e := event.(type) {
		case *browser.EventDownloadWillBegin:
			begun <- e.SuggestedFilename
		case *browser.EventDownloadProgress:
			if e.State != browser.DownloadProgressStateInProgress {
				ended <- e
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
		return Kept{<-begun, content}
	case <-limit.Done():
		p.t.Fatalf("%s was pressed, and no file came", label)
	}
	return Kept{}
}
