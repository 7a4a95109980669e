package ownerpages

import (
	"net/http"
	"net/netip"
	"time"

	"halfshaft/services/internal/throttle"
	"halfshaft/services/internal/webguard"
)

// How often one address may send forms: a person at a telephone never meets
// these limits, a machine that tries codes does (common practice, no source).
const (
	postEvery = 3 * time.Second
	postBurst = 30
	tryEvery  = 30 * time.Second
	tryBurst  = 8
	// What is asked of one person, by whatever networks: a number has some ten
	// million others like it.
	proofEvery = 15 * time.Minute
	proofBurst = 10
)

// limiter gives each address a bucket of tokens.
type limiter = throttle.Buckets[netip.Prefix]

// proofs gives each person one, whoever says to be them.
type proofs = throttle.Buckets[string]

func newProofs() *proofs {
	return throttle.New[string](throttle.Rate{Every: proofEvery, Burst: proofBurst})
}

func newLimiter(every time.Duration, burst int) *limiter {
	return throttle.New[netip.Prefix](throttle.Rate{Every: every, Burst: burst})
}

// limited refuses what one address sends too often.
func (p *pages) limited(l *limiter, next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if wait, ok := l.Take(p.Proxies.Sender(r), p.Clock()); !ok {
			w.Header().Set("Retry-After", webguard.RetryAfter(wait))
			p.tell(w, r, http.StatusTooManyRequests, "too-often")
			return
		}
		next(w, r)
	}
}
