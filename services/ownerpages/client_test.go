package ownerpages_test

import (
	"bytes"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"

	"halfshaft/services/internal/links"
)

const formType = "application/x-www-form-urlencoded"

// token signs a link as it stands in the desk's notice.
func token(t testing.TB, purpose links.Purpose, expires time.Time) string {
	return tokenFor(t, purpose, links.Target{Serial: theSerial, Person: "p0031", Notice: theNotice}, expires)
}

func tokenFor(t testing.TB, purpose links.Purpose, target links.Target, expires time.Time) string {
	t.Helper()
	text, err := ring.Token(links.Link{Purpose: purpose, Subject: target.Subject(), Expires: expires}, links.Nonce{})
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// link is the address of a page that works for an hour.
func link(t testing.TB, server *httptest.Server, purpose links.Purpose) string {
	return server.URL + "/l/" + token(t, purpose, now.Add(time.Hour))
}

// purposes are all that a link can be for.
var purposes = []links.Purpose{
	links.Odometer, links.Unsubscribe, links.Schedule, links.Booked, links.Snooze, links.Done,
	links.Transfer, links.StopYearLetter, links.Calendar, links.History, links.People,
}

// answer is what a page said.
type answer struct {
	*http.Response
	body string
	page *page
}

// say is the text of the page, in one line.
func (a answer) say() string { return a.page.text() }

func do(t testing.TB, method, address, contentType, body string, headers ...string) answer {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, address, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	if contentType != "" {
		r.Header.Set("Content-Type", contentType)
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	resp, err := client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	a := answer{Response: resp, body: string(text), page: &page{}}
	if strings.HasPrefix(resp.Header.Get("Content-Type"), "text/html") && method != "HEAD" {
		a.page = parse(t, a.body)
		a.page.check(t)
	}
	return a
}

func get(t testing.TB, address string, headers ...string) answer {
	return do(t, "GET", address, "", "", headers...)
}

func post(t testing.TB, address string, form url.Values, headers ...string) answer {
	return do(t, "POST", address, formType, form.Encode(), headers...)
}

// postPhoto sends a form with a photograph, as a browser does.
func postPhoto(t testing.TB, address string, form url.Values, photo []byte) answer {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for name, values := range form {
		for _, value := range values {
			if err := w.WriteField(name, value); err != nil {
				t.Fatal(err)
			}
		}
	}
	part, err := w.CreateFormFile("photograph", "IMG_0001.JPG")
	if err != nil {
		t.Fatal(err)
	}
	part.Write(photo)
	w.Close()
	return do(t, "POST", address, w.FormDataContentType(), b.String())
}

// page is a page as a browser reads it.
type page struct{ root *html.Node }

func parse(t testing.TB, text string) *page {
	t.Helper()
	root, err := html.Parse(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return &page{root}
}

func (p *page) all(tag atom.Atom) []*html.Node {
	var found []*html.Node
	if p.root == nil {
		return nil
	}
	for n := range p.root.Descendants() {
		if n.Type == html.ElementNode && n.DataAtom == tag {
			found = append(found, n)
		}
	}
	return found
}

func attribute(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func has(n *html.Node, name string) bool {
	return slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == name })
}

func textOf(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode && d.Parent.DataAtom != atom.Style && d.Parent.DataAtom != atom.Title {
			b.WriteString(d.Data + " ")
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

func (p *page) text() string {
	if p.root == nil {
		return ""
	}
	return textOf(p.root)
}

// form gives the fields of the page's form with the label on its button, as a
// browser would send them when nothing is changed.
func (p *page) form(t testing.TB, button string) url.Values {
	t.Helper()
	for _, f := range p.all(atom.Form) {
		if !strings.Contains(textOf(f), button) {
			continue
		}
		values := url.Values{}
		for n := range f.Descendants() {
			switch name := attribute(n, "name"); {
			case n.Type != html.ElementNode || name == "":
			case n.DataAtom == atom.Select:
				values.Set(name, chosen(n))
			case n.DataAtom == atom.Textarea:
				values.Set(name, textOf(n))
			case n.DataAtom != atom.Input || attribute(n, "type") == "file":
			case attribute(n, "type") == "radio" || attribute(n, "type") == "checkbox":
				if has(n, "checked") {
					values.Add(name, attribute(n, "value"))
				}
			default:
				values.Add(name, attribute(n, "value"))
			}
		}
		return values
	}
	t.Fatalf("no form with the button %q in: %s", button, p.text())
	return nil
}

// chosen is the value that a select sends.
func chosen(n *html.Node) string {
	first, found := "", false
	for o := range n.Descendants() {
		if o.DataAtom != atom.Option {
			continue
		}
		if has(o, "selected") {
			return attribute(o, "value")
		}
		if !found {
			first, found = attribute(o, "value"), true
		}
	}
	return first
}

// press is where the link with a label leads.
func (p *page) press(t testing.TB, label string) string {
	t.Helper()
	for _, a := range p.all(atom.A) {
		if textOf(a) == label {
			return attribute(a, "href")
		}
	}
	t.Fatalf("no link %q in: %s", label, p.text())
	return ""
}

// check holds every page to what all have in common: a language, one heading,
// a label for each field, and nothing that runs, moves on or comes from
// elsewhere.
func (p *page) check(t testing.TB) {
	t.Helper()
	if root := p.all(atom.Html); len(root) != 1 || attribute(root[0], "lang") == "" {
		t.Error("the page does not say its language")
	}
	if n := len(p.all(atom.H1)); n != 1 {
		t.Errorf("%d first headings", n)
	}
	titles := slices.DeleteFunc(p.all(atom.Title), func(n *html.Node) bool { return n.Namespace != "" }) // figures have titles of their own
	if len(titles) != 1 || titles[0].FirstChild == nil || titles[0].FirstChild.Data != textOf(p.all(atom.H1)[0]) {
		t.Error("title and heading differ")
	}
	labelled := map[string]bool{}
	for _, l := range p.all(atom.Label) {
		if textOf(l) == "" {
			t.Error("an empty label")
		}
		if id := attribute(l, "for"); id != "" {
			labelled[id] = true
		}
	}
	ids := map[string]bool{}
	for n := range p.root.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		switch n.DataAtom {
		case atom.Script, atom.Iframe, atom.Object, atom.Img, atom.Link, atom.Base:
			t.Errorf("the page holds a %s", n.Data)
		case atom.Input, atom.Select, atom.Textarea:
			within := n.Parent.DataAtom == atom.Label
			if attribute(n, "type") != "hidden" && !within && !labelled[attribute(n, "id")] {
				t.Errorf("%s has no label", attribute(n, "name"))
			}
		}
		if id := attribute(n, "id"); id != "" {
			if ids[id] {
				t.Errorf("two elements are %q", id)
			}
			ids[id] = true
		}
		for _, a := range n.Attr {
			if strings.HasPrefix(a.Key, "on") || a.Key == "style" || a.Key == "http-equiv" {
				t.Errorf("%s has %s", n.Data, a.Key)
			}
			if outside := strings.Contains(a.Val, "//") && !strings.HasPrefix(a.Val, "webcal://"); outside && (a.Key == "href" || a.Key == "src" || a.Key == "action") {
				t.Errorf("%s leads elsewhere: %s", n.Data, a.Val)
			}
		}
	}
	for n := range p.root.Descendants() {
		if id := attribute(n, "aria-describedby"); id != "" && !ids[id] {
			t.Errorf("%s is described by %q, which is not there", n.Data, id)
		}
	}
	if text := p.text(); strings.Contains(text, "[") && strings.Contains(text, "]") || strings.Contains(text, "ZgotmplZ") {
		t.Errorf("a phrase is missing: %s", text)
	}
}
