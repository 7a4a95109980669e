package desk_test

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"halfshaft/services/desk"
)

// lonely is the desk with no service behind it: whatever is asked of one ends the
// request. Its clock goes on by a minute with each request, so that nobody sends
// too much.
func lonely(t *testing.T) http.Handler {
	t.Helper()
	now := time.Date(2026, 5, 18, 12, 0, 0, 0, time.UTC)
	h, err := desk.New(desk.Config{
		URL: "https://desk.aldermoor.example", Works: "Aldermoor Works", Logger: slog.New(slog.DiscardHandler),
		Clock: func() time.Time { now = now.Add(time.Minute); return now },
	})
	if err != nil {
		t.Fatal(err)
	}
	return h
}

var placeholder = regexp.MustCompile(`\{[^}]*\}`)

// request is one to a route as a browser makes it.
func request(pattern string, headers ...string) *http.Request {
	method, path, _ := strings.Cut(pattern, " ")
	path = placeholder.ReplaceAllString(strings.ReplaceAll(path, "{$}", ""), "x")
	r := httptest.NewRequest(method, "https://desk.aldermoor.example"+path, strings.NewReader("x=y"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	return r
}

// answer is what a handler answers; 0 where it did not get that far.
func answer(h http.Handler, r *http.Request) (w *httptest.ResponseRecorder) {
	w = httptest.NewRecorder()
	defer func() {
		if recover() != nil {
			w.Code = 0 // a service was asked, and there is none
		}
	}()
	h.ServeHTTP(w, r)
	return w
}

func TestEveryRouteThatChangesSomethingRefusesFormsFromElsewhere(t *testing.T) {
	h, posts := lonely(t), 0
	for _, route := range desk.Routes() {
		method, _, _ := strings.Cut(route.Pattern, " ")
		if method == http.MethodGet {
			continue
		}
		if method != http.MethodPost {
			t.Errorf("%s: neither GET nor POST, and forms from elsewhere are refused for POST", route.Pattern)
		}
		posts++
		for name, headers := range map[string][]string{
			"another site":                        {"Sec-Fetch-Site", "cross-site", "Origin", "https://ferncombe.example"},
			"another host of the same site":       {"Sec-Fetch-Site", "same-site", "Origin", "https://other.aldermoor.example"},
			"another site, as older browsers say": {"Origin", "https://ferncombe.example"},
			"another port":                        {"Origin", "https://desk.aldermoor.example:8443"},
			"a host whose name begins with ours":  {"Origin", "https://desk.aldermoor.example.ferncombe.example"},
			"a page that hides where it is":       {"Origin", "null"},
		} {
			w := answer(h, request(route.Pattern, append(headers, "Cookie", "__Host-session=s")...))
			if w.Code != http.StatusForbidden || !strings.Contains(w.Body.String(), "not sent from here") {
				t.Errorf("%s from %s: got %d, want %d", route.Pattern, name, w.Code, http.StatusForbidden)
			}
		}
		// From our own page it passes; without a session it leads to signing in, or
		// to what asks a service.
		if w := answer(h, request(route.Pattern, "Sec-Fetch-Site", "same-origin", "Origin", "https://desk.aldermoor.example")); w.Code == http.StatusForbidden {
			t.Errorf("%s from our own page: got %d", route.Pattern, w.Code)
		}
	}
	if posts < 20 {
		t.Errorf("%d routes change something", posts)
	}
}

func TestWhatChangesSomethingIsNeverALink(t *testing.T) {
	h := lonely(t)
	pages := map[string]bool{}
	for _, route := range desk.Routes() {
		pages[route.Pattern] = true
	}
	for _, route := range desk.Routes() {
		path, isPost := strings.CutPrefix(route.Pattern, "POST ")
		if !isPost || pages["GET "+path] {
			continue
		}
		if w := answer(h, request("GET "+path)); w.Code != http.StatusNotFound && w.Code != http.StatusSeeOther {
			t.Errorf("GET %s: got %d, want no page", path, w.Code)
		}
	}
}

// safe are the headers of every answer, and what stands in them.
var safe = map[string]*regexp.Regexp{
	"Content-Security-Policy":      regexp.MustCompile(`^default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'$`),
	"X-Content-Type-Options":       regexp.MustCompile(`^nosniff$`),
	"Referrer-Policy":              regexp.MustCompile(`^(no-referrer|same-origin)$`),
	"Cache-Control":                regexp.MustCompile(`no-store`),
	"Cross-Origin-Opener-Policy":   regexp.MustCompile(`^same-origin$`),
	"Cross-Origin-Resource-Policy": regexp.MustCompile(`^same-origin$`),
	"Permissions-Policy":           regexp.MustCompile(`camera=\(\)`),
	"X-Robots-Tag":                 regexp.MustCompile(`noindex`),
}

func TestEveryAnswerHasTheHeadersThatKeepOthersOut(t *testing.T) {
	h := lonely(t)
	patterns := []string{"GET /desk.css", "GET /desk.js", "GET /passkey.js", "GET /nowhere", "POST /nowhere", "PUT /account"}
	for _, route := range desk.Routes() {
		patterns = append(patterns, route.Pattern)
	}
	for _, pattern := range patterns {
		w := answer(h, request(pattern))
		for name, want := range safe {
			if got := w.Header().Get(name); !want.MatchString(got) {
				t.Errorf("%s: %s is %q, want %s", pattern, name, got, want)
			}
		}
	}
}

// A page that is for whoever is signed in sends everybody else to sign in, and
// asks no service but the one that knows sessions.
func TestWithoutASessionNothingIsShown(t *testing.T) {
	h := lonely(t)
	for _, route := range desk.Routes() {
		if route.Who == desk.Anybody {
			continue
		}
		w := answer(h, request(route.Pattern, "Sec-Fetch-Site", "same-origin"))
		if w.Code != http.StatusSeeOther || !strings.HasPrefix(w.Header().Get("Location"), "/sign-in") {
			t.Errorf("%s: got %d to %q, want to be sent to sign in", route.Pattern, w.Code, w.Header().Get("Location"))
		}
	}
}

// RFC 6265bis: what begins with __Host- is refused by browsers without the rest of
// this (section 4.1.3.2; from memory).
func TestCookiesAreClosedToScriptsAndOtherSites(t *testing.T) {
	w := answer(lonely(t), request("GET /invitation/{secret}"))
	kept := w.Result().Cookies()
	if len(kept) == 0 {
		t.Fatal("an invitation is kept in no cookie")
	}
	for _, c := range kept {
		if !strings.HasPrefix(c.Name, "__Host-") || !c.HttpOnly || !c.Secure || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Domain != "" || c.MaxAge > 0 || !c.Expires.IsZero() {
			t.Errorf("got %v", c)
		}
	}
}
