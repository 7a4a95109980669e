package works_test

import (
	"io"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
)

// Routes and fields of forms are read from the sources of the pages, so that a
// new one is tried without anybody's help.
var (
	aRoute = regexp.MustCompile(`"(GET|POST) (/[^"]*)"`)
	aField = regexp.MustCompile(`(?:Get|value|FormValue|input)\("([a-z_-]+)"\)|name="([a-z_-]+)"`)
)

// pageSources gives the routes and the fields of the pages below a directory.
func pageSources(t *testing.T, dir string) (routes [][2]string, fields []string) {
	t.Helper()
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, nil
	}
	defer root.Close()
	seen := map[string]bool{}
	read := func(name string) {
		text, err := root.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, found := range aRoute.FindAllStringSubmatch(string(text), -1) {
			routes = append(routes, [2]string{found[1], found[2]})
		}
		for _, found := range aField.FindAllStringSubmatch(string(text), -1) {
			seen[found[1]+found[2]] = true
		}
	}
	for _, sub := range []string{".", "templates"} {
		d, err := root.Open(sub)
		if err != nil {
			continue
		}
		names, err := d.Readdirnames(-1)
		d.Close()
		if err != nil {
			t.Fatal(err)
		}
		slices.Sort(names)
		for _, name := range names {
			if strings.HasSuffix(name, ".html") || strings.HasSuffix(name, ".go") && !strings.HasSuffix(name, "_test.go") {
				read(sub + "/" + name)
			}
		}
	}
	for name := range seen {
		if name != "" {
			fields = append(fields, name)
		}
	}
	slices.Sort(fields)
	return routes, fields
}

// routePart is a part of a route that stands for anything.
var routePart = regexp.MustCompile(`\{[^}]*\}`)

// allRoutes sends markers to every route of both sets of pages, and gives how
// many routes there are.
func (m *marked) allRoutes(t *testing.T) (n int) {
	t.Helper()
	for _, pages := range []struct {
		dir, base            string
		leastRoutes, leastIn int
	}{
		{"../ownerpages", "http://" + m.process.HTTPAddress().String(), 6, 6},
		{"../desk", "http://" + m.process.DeskAddress().String(), 30, 6},
	} {
		routes, fields := pageSources(t, pages.dir)
		if len(routes) < pages.leastRoutes || len(fields) < pages.leastIn {
			t.Errorf("%d routes and %d fields were found in %s", len(routes), len(fields), pages.dir)
		}
		for _, route := range routes {
			m.visit(t, pages.base, route[0], route[1], fields)
		}
		n += len(routes)
	}
	return n
}

// visit sends markers to a route: in its path, in its query or in every field of
// its form, and in a header.
func (m *marked) visit(t *testing.T, base, method, route string, fields []string) {
	t.Helper()
	person := (&ownerv1.Person{}).ProtoReflect().Descriptor().Fields()
	word := func() string { return m.fresh(person.ByName("full_name"), true) }
	path := routePart.ReplaceAllStringFunc(route, func(text string) string {
		if text == "{$}" {
			return ""
		}
		return url.PathEscape(word())
	})
	form := url.Values{}
	for _, f := range fields {
		form.Set(f, word())
	}
	form.Set("email", m.fresh(person.ByName("email"), true))
	body, query := io.Reader(nil), ""
	if method == "POST" {
		body = strings.NewReader(form.Encode())
	} else {
		query = "?" + form.Encode()
	}
	request, err := http.NewRequestWithContext(m.ctx, method, base+path+query, body)
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	request.Header.Set("User-Agent", word())
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	answer, err := client.Do(request)
	if err != nil {
		t.Fatalf("%s %s: %v", method, route, err)
	}
	io.Copy(io.Discard, answer.Body)
	answer.Body.Close()
	if method == "POST" { // whoever is asked to sign in comes back to the address that they had themselves
		m.clean(t, "the address that POST "+route+" leads on to", answer.Header.Get("Location"), everything)
	}
	if answer.StatusCode >= 500 {
		t.Errorf("%s %s: %s", method, route, answer.Status)
	}
}
