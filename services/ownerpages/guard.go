package ownerpages

import (
	"net/http"
	"net/netip"
	"time"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
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
	// Links of one kind that are sent to one person, whoever asks for them: nobody's
	// mailbox is to be filled. Whoever may ask for no more has been sent the like, also
	// where somebody else asked.
	askEvery = 15 * time.Minute
	askBurst = 3
)

// limiter gives each address a bucket of tokens.
type limiter = throttle.Buckets[netip.Prefix]

// wish is what a link is asked for: for whom, about which vehicle, to do what.
type wish struct {
	person, vehicle string
	matter          reminderv1.ConfirmationMatter
}

// asks gives each of those one, whoever says to be the person.
type asks = throttle.Buckets[wish]

func newAsks() *asks {
	return throttle.New[wish](throttle.Rate{Every: askEvery, Burst: askBurst})
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
