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

	"google.golang.org/protobuf/reflect/protoreflect"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
	"halfshaft/services/internal/privacy"
)

func privacyOf(fd protoreflect.FieldDescriptor) *privacyv1.Personal { return privacy.Of(fd) }

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

// allRoutes sends markers to every route, in the path, the query and every field
// of a form, and gives how many routes there are.
func (m *marked) allRoutes(t *testing.T) int {
	t.Helper()
	name := (&ownerv1.Person{}).ProtoReflect().Descriptor().Fields().ByName("full_name")
	placeholder := regexp.MustCompile(`\{[^}]*\}`)
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	base := "http://" + m.process.HTTPAddress().String()
	routes, fields := pageSources(t, "../ownerpages")
	if len(routes) < 6 || len(fields) < 6 {
		t.Fatalf("%d routes and %d fields were found in the pages", len(routes), len(fields))
	}
	for _, route := range routes {
		path := placeholder.ReplaceAllStringFunc(route[1], func(string) string { return url.PathEscape(m.fresh(name, true)) })
		form := url.Values{}
		for _, f := range fields {
			form.Set(f, m.fresh(name, true))
		}
		form.Set("email", m.fresh((&ownerv1.Person{}).ProtoReflect().Descriptor().Fields().ByName("email"), true))
		body, query := io.Reader(nil), ""
		if route[0] == "POST" {
			body = strings.NewReader(form.Encode())
		} else {
			query = "?" + form.Encode()
		}
		request, err := http.NewRequestWithContext(m.ctx, route[0], base+path+query, body)
		if err != nil {
			t.Fatal(err)
		}
		request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		request.Header.Set("User-Agent", m.fresh(name, true))
		answer, err := client.Do(request)
		if err != nil {
			t.Fatalf("%v: %v", route, err)
		}
		io.Copy(io.Discard, answer.Body)
		answer.Body.Close()
		m.clean(t, "the address that "+route[0]+" "+route[1]+" leads on to", answer.Header.Get("Location"), everything)
		if answer.StatusCode >= 500 {
			t.Errorf("%v: %s", route, answer.Status)
		}
	}
	return len(routes)
}
