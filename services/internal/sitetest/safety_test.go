package sitetest

import (
	"strings"
	"testing"

	"golang.org/x/net/html"

	"halfshaft/services/internal/racetest"
)

// What keeps others out of a page, of every page as it really comes: the policy
// allows nothing that stands in the page itself but what it has the hash of, and
// nothing stands there that it would have to allow.
func TestEveryPageIsClosedToOthers(t *testing.T) {
	racetest.Skip(t, "pages are fetched one after the other")
	s := theSite(t)
	for _, p := range pages() {
		if p.send != "" {
			continue
		}
		c := s.people[nobody]
		if k := s.people[p.as]; k != nil {
			c = k
		}
		a, err := c.get(s.address(p))
		if err != nil {
			t.Fatal(err)
		}
		policy := a.header.Get("Content-Security-Policy")
		for _, want := range []string{"default-src 'none'", "frame-ancestors 'none'", "base-uri 'none'", "form-action "} {
			if !strings.Contains(policy, want) {
				t.Errorf("%s: the policy %q is without %s", p.name(), policy, want)
			}
		}
		for _, never := range []string{"unsafe", "http:", "https:", "*", "data:", "blob:"} {
			if strings.Contains(policy, never) {
				t.Errorf("%s: the policy %q allows %s", p.name(), policy, never)
			}
		}
		for name, want := range map[string]string{
			"X-Content-Type-Options": "nosniff", "Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin", "X-Robots-Tag": "noindex",
		} {
			if got := a.header.Get(name); got != want {
				t.Errorf("%s: %s is %q, want %q", p.name(), name, got, want)
			}
		}
		if p.ofOwners() && len(a.header.Values("Set-Cookie")) > 0 {
			t.Errorf("%s: a page of the owners sets a cookie, and their link is the only key", p.name())
		}
		for _, what := range standing(t, a.body, strings.Contains(policy, "'sha256-")) {
			t.Errorf("%s: %s", p.name(), what)
		}
	}
}

// standing says what stands in a page that a strict policy forbids, or that leads
// a form elsewhere.
func standing(t *testing.T, page string, hashed bool) (all []string) {
	t.Helper()
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	for n := range root.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		attributes := map[string]string{}
		for _, a := range n.Attr {
			attributes[a.Key] = a.Val
			if a.Key == "style" || strings.HasPrefix(a.Key, "on") || strings.HasPrefix(strings.ToLower(strings.TrimSpace(a.Val)), "javascript:") {
				all = append(all, "<"+n.Data+"> has "+a.Key+"="+a.Val)
			}
		}
		switch n.Data {
		case "script":
			if attributes["src"] == "" {
				all = append(all, "a script stands in it")
			}
		case "style":
			if !hashed {
				all = append(all, "a style sheet stands in it")
			}
		case "form":
			if to := attributes["action"]; to != "" && !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") {
				all = append(all, "a form leads to "+to)
			}
		case "iframe", "object", "embed", "base":
			all = append(all, "there is a <"+n.Data+">")
		}
	}
	return all
}
