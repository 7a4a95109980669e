package ownerpages

import (
	"crypto/sha256"
	"encoding/base64"
	"net"
	"net/http"
	"net/netip"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// secured sets the headers of every answer: nothing is loaded from anywhere
// else, no style but ours is obeyed and no script at all, nothing is kept, and
// the address, which is a key, is told to nobody.
func secured(next http.Handler, style []byte) http.Handler {
	sum := sha256.Sum256(style)
	policy := "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) +
		"'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
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

// How often one address may send forms: a person at a telephone never meets
// these limits, a machine that tries codes does (common practice, no source).
const (
	postEvery = 3 * time.Second
	postBurst = 30
	tryEvery  = 30 * time.Second
	tryBurst  = 8
)

// mostAddresses bounds what a limiter remembers.
const mostAddresses = 10_000

// limiter gives each address a bucket of tokens.
type limiter struct {
	every time.Duration
	burst int

	mu sync.Mutex
	of map[netip.Prefix]*rate.Limiter
}

func newLimiter(every time.Duration, burst int) *limiter {
	return &limiter{every: every, burst: burst, of: map[netip.Prefix]*rate.Limiter{}}
}

// take takes a token, or says how long there will be none.
func (l *limiter) take(from netip.Prefix, now time.Time) (wait time.Duration, ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	bucket := l.of[from]
	if bucket == nil {
		l.forget(now)
		bucket = rate.NewLimiter(rate.Every(l.every), l.burst)
		l.of[from] = bucket
	}
	if bucket.AllowN(now, 1) {
		return 0, true
	}
	lacking := 1 - bucket.TokensAt(now)
	return time.Duration(lacking * float64(l.every)), false
}

// forget drops the buckets that are full again when there are many; when none
// is, all of them, so that memory is bounded before anything else.
func (l *limiter) forget(now time.Time) {
	if len(l.of) < mostAddresses {
		return
	}
	for from, bucket := range l.of {
		if bucket.TokensAt(now) >= float64(l.burst) {
			delete(l.of, from)
		}
	}
	if len(l.of) >= mostAddresses {
		clear(l.of)
	}
}

// limited refuses what one address sends too often.
func (p *pages) limited(l *limiter, next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if wait, ok := l.take(sender(r), p.Clock()); !ok {
			w.Header().Set("Retry-After", seconds(wait))
			p.tell(w, r, http.StatusTooManyRequests, "too-often")
			return
		}
		next(w, r)
	}
}

// seconds is a Retry-After (RFC 9110 section 10.2.3), at least one.
func seconds(wait time.Duration) string {
	return strconv.Itoa(max(1, int((wait+time.Second-1)/time.Second)))
}

// sender is the address that a request comes from: a whole IPv4 address, or the
// /64 of an IPv6 one, which is what one household has (RFC 6177). Where it
// comes over a private network, a proxy of the works stands between and says
// whom it speaks for, last in X-Forwarded-For.
func sender(r *http.Request) netip.Prefix {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	from, err := netip.ParseAddr(host)
	if err != nil {
		return netip.Prefix{}
	}
	if from.IsLoopback() || from.IsPrivate() {
		chain := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
		if told, err := netip.ParseAddr(strings.TrimSpace(chain[len(chain)-1])); err == nil {
			from = told
		}
	}
	from = from.Unmap().WithZone("")
	bits := 64
	if from.Is4() {
		bits = 32
	}
	prefix, _ := from.Prefix(bits) // the number of bits fits
	return prefix
}
