// Package webguard is what stands before every page: the headers that keep
// others out of it, and who sent a request.
package webguard

import (
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// Policy is a Content-Security-Policy of pages that load nothing but what is
// named, are in nobody's frame, and send forms to themselves only.
type Policy struct {
	Style []byte   // the one style sheet within the pages; nil for none
	Allow []string // directives for what else is loaded: "script-src 'self'"
}

// String writes the policy as its header has it.
func (p Policy) String() string {
	parts := []string{"default-src 'none'"}
	if p.Style != nil {
		sum := sha256.Sum256(p.Style)
		parts = append(parts, "style-src 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'")
	}
	parts = append(parts, p.Allow...)
	return strings.Join(append(parts, "form-action 'self'", "frame-ancestors 'none'", "base-uri 'none'"), "; ")
}

// Secured sets the headers of every answer: the policy, nothing is kept, and
// the address, which may be a key, is told to nobody.
func Secured(next http.Handler, policy Policy) http.Handler {
	text := policy.String()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", text)
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Cache-Control", "no-store")
		h.Set("X-Robots-Tag", "noindex")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
		next.ServeHTTP(w, r)
	})
}

// RetryAfter writes a wait for the header of that name (RFC 9110 section
// 10.2.3), at least one second.
func RetryAfter(wait time.Duration) string {
	return strconv.Itoa(max(1, int((wait+time.Second-1)/time.Second)))
}
