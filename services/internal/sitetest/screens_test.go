package sitetest

import (
	"errors"
	"fmt"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// views are the ways in which a page is looked at; printing comes besides.
var views = []struct {
	name   string
	width  int64
	scheme string
}{
	{"320-light", 320, "light"}, {"320-dark", 320, "dark"}, {"1280-light", 1280, "light"}, {"1280-dark", 1280, "dark"},
}

// TestScreens takes pictures of every page and of what is printed into the
// directory that HALFSHAFT_SCREENS names, with a page to look through them and a
// table of what pages weigh and take. `make screens` calls it. Where
// HALFSHAFT_SCREENS_OF holds a regular expression, pages are left out whose names
// it does not match, and so is the table.
func TestScreens(t *testing.T) {
	dir := os.Getenv("HALFSHAFT_SCREENS")
	if dir == "" {
		t.Skip("pictures are taken where HALFSHAFT_SCREENS says")
	}
	s := theSite(t)
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	of, err := regexp.Compile(os.Getenv("HALFSHAFT_SCREENS_OF"))
	if err != nil {
		t.Fatalf("HALFSHAFT_SCREENS_OF: %v", err)
	}
	costs := ""
	if of.String() == "" {
		if costs, err = s.costs(); err != nil {
			t.Fatal(err)
		}
		t.Log("\n" + costs)
	}
	album, err := newAlbum(dir)
	if err != nil {
		t.Fatal(err)
	}
	b := newBrowser(t, s)
	for _, p := range pages() {
		if !of.MatchString(p.name()) {
			continue
		}
		b.wide(320)
		b.shown("light", "screen")
		b.open(p)
		album.begin(p.name())
		if err := b.pictures(album); err != nil {
			t.Fatalf("%s: %v", p.name(), err)
		}
	}
	if err := s.papersInto(album, of); err != nil {
		t.Fatal(err)
	}
	if err := s.mailsInto(t, album, b, of); err != nil {
		t.Fatal(err)
	}
	if err := s.amountsInto(t, album, of); err != nil {
		t.Fatal(err)
	}
	if err := album.close(costs); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d pictures; open %s", album.pictures, filepath.Join(dir, "index.html"))
}

// costs measures every page and gives the table.
func (s *site) costs() (string, error) {
	if _, _, err := s.measure(1); err != nil { // what is read once for all
		return "", err
	}
	all, every, err := s.measure(turns)
	if err != nil {
		return "", err
	}
	return table(all, every), nil
}

// pictures takes those of the page that is open.
func (b *browser) pictures(a *album) error {
	for _, v := range views {
		b.wide(v.width)
		b.shown(v.scheme, "screen")
		picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
		if err != nil {
			return err
		}
		if err := a.add(v.name, picture); err != nil {
			return err
		}
	}
	b.shown("light", "")
	pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4)))
	if err != nil {
		return err
	}
	return a.addPrinted(a.name+".print", pdf)
}

// album is a directory of pictures with a page that shows them.
type album struct {
	dir, name string
	draw      string // pdftoppm, which draws printed pages
	body      strings.Builder
	pictures  int
}

func newAlbum(dir string) (*album, error) {
	draw, err := exec.LookPath("pdftoppm")
	if err != nil {
		return nil, errors.New("no pdftoppm to draw printed pages with: Debian's poppler-utils")
	}
	return &album{dir: dir, draw: draw}, nil
}

func (a *album) begin(name string) {
	a.name = name
	fmt.Fprintf(&a.body, "<h2 id=\"%[1]s\">%[1]s</h2>\n", html.EscapeString(name))
}

func (a *album) add(view string, picture []byte) error {
	file := a.name + "." + view + ".png"
	a.show(file, view)
	return os.WriteFile(filepath.Join(a.dir, file), picture, 0o644)
}

func (a *album) show(file, view string) {
	a.pictures++
	fmt.Fprintf(&a.body, "<a href=\"%[1]s\"><figure><img loading=\"lazy\" src=\"%[1]s\" alt=\"\"><figcaption>%[2]s</figcaption></figure></a>\n", html.EscapeString(file), html.EscapeString(view))
}

// close writes the page.
func (a *album) close(costs string) error {
	const head = `<!doctype html><meta charset="utf-8"><title>Pages</title>
<style>body{font:1rem system-ui;margin:1rem}a{display:inline-block;vertical-align:top;margin:.5rem}figure{margin:0}img{max-width:24rem;max-height:32rem;border:1px solid #888}</style>
<h1>Every page, and what is printed</h1>
`
	text := head + a.body.String() + "<h2>What pages weigh and take</h2>\n<pre>" + html.EscapeString(costs) + "</pre>\n"
	return os.WriteFile(filepath.Join(a.dir, "index.html"), []byte(text), 0o644)
}

// addPrinted adds each page of something printed, and the file.
func (a *album) addPrinted(name string, pdf []byte) error {
	file := filepath.Join(a.dir, name+".pdf")
	if err := os.WriteFile(file, pdf, 0o644); err != nil {
		return err
	}
	if out, err := exec.Command(a.draw, "-r", "80", "-png", file, filepath.Join(a.dir, name)).CombinedOutput(); err != nil {
		return fmt.Errorf("draw %s: %w: %s", name, err, out)
	}
	drawn, err := filepath.Glob(filepath.Join(a.dir, name+"-*.png"))
	if err != nil {
		return err
	}
	slices.Sort(drawn)
	for i, path := range drawn {
		a.show(filepath.Base(path), fmt.Sprintf("printed, page %d of %d", i+1, len(drawn)))
	}
	return nil
}

// papersInto adds the pages of what is printed: handbooks, job sheets, letters.
func (s *site) papersInto(a *album, of *regexp.Regexp) error {
	papers, err := s.printed()
	if err != nil {
		return err
	}
	for _, p := range papers {
		if !of.MatchString(p.name) {
			continue
		}
		a.begin(p.name)
		if err := a.addPrinted(p.name, p.pdf); err != nil {
			return err
		}
	}
	return nil
}
