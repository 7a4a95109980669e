package sitetest

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"halfshaft/services/desk"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/ownerpages"
)

// deskPatterns are the addresses of the desk, and what answers every other.
func deskPatterns() []string {
	all := []string{"/"}
	for _, r := range desk.Routes() {
		all = append(all, r.Pattern)
	}
	return all
}

func TestEveryPageIsLookedAt(t *testing.T) {
	for name, c := range map[string]struct {
		patterns []string
		pages    []sheet
		none     map[string]string
	}{
		"desk":   {deskPatterns(), deskPages, noPages},
		"owners": {ownerpages.Patterns(), ownerPages, noOwnerPages},
	} {
		mux := http.NewServeMux()
		for _, pattern := range c.patterns {
			mux.HandleFunc(pattern, http.NotFound)
		}
		rows := map[string]bool{}
		for _, p := range c.pages {
			rows[p.pattern] = true
			if strings.Contains(p.path, "{link-") {
				continue // TestEveryLinkHasAPage follows these
			}
			if _, got := mux.Handler(httptest.NewRequest(http.MethodGet, pathOf(p), nil)); got != p.pattern {
				t.Errorf("%s: its row says %q, and %q answers %s", name, p.pattern, got, pathOf(p))
			}
		}
		for _, pattern := range c.patterns {
			if strings.HasPrefix(pattern, "POST ") || rows[pattern] || c.none[pattern] != "" {
				continue
			}
			t.Errorf("%s: nobody looks at %s: give it a row in desklist_test.go or ownerlist_test.go", name, pattern)
		}
		for pattern := range c.none {
			if !slices.Contains(c.patterns, pattern) || rows[pattern] {
				t.Errorf("%s: %s is no page and has a row, or is no route", name, pattern)
			}
		}
	}
}

// pathOf is an address of a page with something in place of its words.
func pathOf(p sheet) string {
	path := p.path
	if path == "" {
		_, path, _ = strings.Cut(strings.ReplaceAll(p.pattern, "{$}", ""), " ")
	}
	return strings.NewReplacer("{", "", "}", "").Replace(path)
}

// A link of a purpose that has no row leads nowhere.
func TestEveryLinkHasAPage(t *testing.T) {
	racetest.Skip(t, "its calls follow each other")
	s := theSite(t)
	for as, tag := range languages {
		c := newClient(s.owners)
		for _, purpose := range purposes() {
			word := fmt.Sprintf("link-%s-%c", tag, purpose)
			listed := slices.ContainsFunc(ownerPages, func(p sheet) bool { return p.as == as && p.path == "{"+word+"}" })
			a, err := c.get(s.found[word])
			if err != nil {
				t.Fatal(err)
			}
			if (a.status != http.StatusNotFound) != listed {
				t.Errorf("a link %q in %s: got %d, in the list: %v", purpose, as, a.status, listed)
			}
		}
	}
}

func TestPagesHaveNamesOfTheirOwn(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range pages() {
		if seen[p.name()] {
			t.Errorf("two pages go by %s", p.name())
		}
		seen[p.name()] = true
	}
}
