// Package throttle gives each of many senders a bucket of tokens, and says to
// one whose bucket is empty when the next token will be there.
package throttle

import (
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// Rate is how often a sender may act: Burst times at once, and once more after
// each Every.
type Rate struct {
	Every time.Duration
	Burst int
}

// Unlimited is no limit.
var Unlimited = Rate{Burst: -1}

// mostSenders bounds what is remembered.
const mostSenders = 10_000

// Buckets holds the bucket of each sender. It is safe for concurrent use; the
// time is an argument.
type Buckets[K comparable] struct {
	rate Rate

	mu sync.Mutex
	of map[K]*rate.Limiter
}

// New makes buckets that are all full.
func New[K comparable](r Rate) *Buckets[K] {
	return &Buckets[K]{rate: r, of: map[K]*rate.Limiter{}}
}

// Take takes a token from the sender's bucket, or says how long there will be
// none: asked again when wait is over, and by nobody else meanwhile, it gives
// one, and not before.
func (b *Buckets[K]) Take(sender K, now time.Time) (wait time.Duration, ok bool) {
	if b.rate.Burst < 0 {
		return 0, true
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	bucket := b.of[sender]
	if bucket == nil {
		b.forget(now)
		bucket = rate.NewLimiter(rate.Every(b.rate.Every), b.rate.Burst)
		b.of[sender] = bucket
	}
	if bucket.AllowN(now, 1) {
		return 0, true
	}
	lacking := 1 - bucket.TokensAt(now)
	// Up to the next millisecond, since tokens are counted in floating point.
	wait = time.Duration(lacking * float64(b.rate.Every))
	return wait.Truncate(time.Millisecond) + time.Millisecond, false
}

// forget drops the buckets that are full again when there are many; when it
// frees less than half, all of them, so that memory and time are bounded
// before anything else.
func (b *Buckets[K]) forget(now time.Time) {
	if len(b.of) < mostSenders {
		return
	}
	for sender, bucket := range b.of {
		if bucket.TokensAt(now) >= float64(b.rate.Burst) {
			delete(b.of, sender)
		}
	}
	if len(b.of) > mostSenders/2 {
		clear(b.of)
	}
}

// Network is what counts as one sender of those that come over a network: a
// whole IPv4 address, or the /64 of an IPv6 one, which is what one household
// has (RFC 6177). It is the zero Prefix for what is no address.
func Network(from netip.Addr) netip.Prefix {
	from = from.Unmap().WithZone("")
	bits := 64
	if from.Is4() {
		bits = 32
	}
	prefix, err := from.Prefix(bits)
	if err != nil {
		return netip.Prefix{}
	}
	return prefix
}

// NetworkText writes a network for people and records: "192.0.2.17",
// "2001:db8:1:2::/64"; the zero Prefix as "".
func NetworkText(network netip.Prefix) string {
	switch {
	case !network.IsValid():
		return ""
	case network.IsSingleIP():
		return network.Addr().String()
	}
	return network.String()
}
