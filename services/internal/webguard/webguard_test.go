package webguard

import (
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

func TestAPolicyAllowsWhatItNamesAndNothingElse(t *testing.T) {
	sum := sha256.Sum256([]byte("p{}"))
	style := "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
	for want, p := range map[string]Policy{
		"default-src 'none'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'":                                             {},
		"default-src 'none'; style-src " + style + "; script-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'": {Style: []byte("p{}"), Allow: []string{"script-src 'self'"}},
	} {
		if got := p.String(); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
	w := httptest.NewRecorder()
	Secured(http.NotFoundHandler(), Policy{}).ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/", nil))
	h := w.Header()
	if !strings.HasPrefix(h.Get("Content-Security-Policy"), "default-src 'none'") || h.Get("Cache-Control") != "no-store" ||
		h.Get("X-Content-Type-Options") != "nosniff" || h.Get("Referrer-Policy") != "no-referrer" {
		t.Errorf("got %v", h)
	}
}

func TestAWaitIsWrittenInWholeSecondsAndNeverNone(t *testing.T) {
	for wait, want := range map[time.Duration]string{0: "1", time.Millisecond: "1", time.Second: "1", 1001 * time.Millisecond: "2", time.Minute: "60"} {
		if got := RetryAfter(wait); got != want {
			t.Errorf("%v: got %s, want %s", wait, got, want)
		}
	}
}
