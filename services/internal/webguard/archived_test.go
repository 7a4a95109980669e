package webguard

import (
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

func serveArchived(a Archived) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { a.Serve(w, r) })
	Secured(h, Policy{Style: []byte("p{}")}).ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/", nil))
	return w
}

// The hash is that of the text between the tags, as CSP 3 section 8.3 has it.
func TestAnArchivedPageKeepsItsBytesAndItsStyle(t *testing.T) {
	page := "<!doctype html><title>x</title><style>\na{color:red}\n</style><p>y<style>b{}</style>"
	w := serveArchived(Archived{"a.html", "text/html", []byte(page)})
	if w.Body.String() != page {
		t.Errorf("the bytes are %q", w.Body.String())
	}
	policy := w.Header().Get("Content-Security-Policy")
	for _, sheet := range []string{"\na{color:red}\n", "b{}"} {
		sum := sha256.Sum256([]byte(sheet))
		if want := "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"; !strings.Contains(policy, want) {
			t.Errorf("the policy %q lacks %s", policy, want)
		}
	}
	for _, want := range []string{"default-src 'none'", "frame-ancestors 'none'", "form-action 'none'"} {
		if !strings.Contains(policy, want) {
			t.Errorf("the policy %q lacks %s", policy, want)
		}
	}
	if strings.Contains(policy, "unsafe") || strings.Contains(policy, "script") {
		t.Errorf("the policy is %q", policy)
	}
	if got := w.Header().Get("Content-Disposition"); !strings.HasPrefix(got, "inline") {
		t.Errorf("the page is %q", got)
	}
}

func TestAnArchivedPDFIsOfferedToBeKept(t *testing.T) {
	w := serveArchived(Archived{"AM0147P-handbook-3-A5.pdf", "application/pdf", []byte("%PDF-1.4")})
	if got := w.Header().Get("Content-Disposition"); got != "attachment; filename=AM0147P-handbook-3-A5.pdf" {
		t.Errorf("it is %q", got)
	}
	if got := w.Header().Get("Content-Type"); got != "application/pdf" || w.Body.String() != "%PDF-1.4" {
		t.Errorf("it is %q: %q", got, w.Body.String())
	}
	if got := w.Header().Get("X-Content-Type-Options"); got != "nosniff" {
		t.Errorf("a browser may guess: %q", got)
	}
}

// A page with a style that never closes, or none, lets no style pass.
func TestAnArchivedPageWithoutAStyleLetsNonePass(t *testing.T) {
	for _, page := range []string{"<p>x", "<style>a{}", "</style><p>"} {
		if got := archivedPolicy([]byte(page)); strings.Contains(got, "style-src") {
			t.Errorf("%q: %s", page, got)
		}
	}
}

// A header that is too long makes browsers and proxies refuse the page.
func TestThePolicyOfAnArchivedPageStaysShort(t *testing.T) {
	if got := archivedPolicy([]byte(strings.Repeat("<style></style>", 50_000))); len(got) > 1000 {
		t.Errorf("it has %d bytes", len(got))
	}
}
