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

// Addresses of RFC 5737 and RFC 3849, which nobody has.
func TestTheSenderIsWhoSpeaksOrWhomAProxyOfOursSpeaksFor(t *testing.T) {
	for _, c := range []struct{ name, remote, forwarded, want string }{
		{"an address of the internet", "203.0.113.7:1234", "", "203.0.113.7/32"},
		{"one that says it speaks for another", "203.0.113.7:1234", "198.51.100.1", "203.0.113.7/32"},
		{"a proxy on this machine", "127.0.0.1:1234", "198.51.100.1", "198.51.100.1/32"},
		{"a proxy that was told more, of which the last is its own word", "10.1.2.3:1234", "192.0.2.9, 198.51.100.1", "198.51.100.1/32"},
		{"this machine itself", "127.0.0.1:1234", "", "127.0.0.1/32"},
		{"a proxy that says nonsense", "127.0.0.1:1234", "unknown", "127.0.0.1/32"},
		{"a household", "[2001:db8:1:2:3:4:5:6]:1234", "", "2001:db8:1:2::/64"},
		{"an IPv4 address in the dress of IPv6", "[::ffff:203.0.113.7]:1234", "", "203.0.113.7/32"},
	} {
		r := httptest.NewRequest(http.MethodPost, "/", nil)
		r.RemoteAddr = c.remote
		if c.forwarded != "" {
			r.Header.Set("X-Forwarded-For", c.forwarded)
		}
		if got := Sender(r).String(); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}

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
