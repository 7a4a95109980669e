package accessgate

import (
	"cmp"
	"net/netip"
	"time"

	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/throttle"
)

// Limits are how often callers may call. Services and the local operator have
// none. What is the zero Rate has its standard.
type Limits struct {
	Key     throttle.Rate // calls with one key; standard 100 a second, 1,000 at once
	Address throttle.Rate // calls from one network address; standard 200 a second, 2,000 at once
	Failed  throttle.Rate // calls from one address by nobody we know; standard 1 in 10 seconds, 20 at once
	Changes throttle.Rate // changes by one owner, or by one of a dealer's, through a page too; standard 1 in 5 seconds, 500 at once
}

// The standards: a program that imports a catalogue stays below the first two,
// a person who mistypes a key below the third (common practice, no source).
var (
	standardKey     = throttle.Rate{Every: 10 * time.Millisecond, Burst: 1000}
	standardAddress = throttle.Rate{Every: 5 * time.Millisecond, Burst: 2000}
	standardFailed  = throttle.Rate{Every: 10 * time.Second, Burst: 20}
	// Each change stays: itself, its line in the audit and its request. Who works
	// through a morning of services does not meet this; at the rate of a key, one
	// owner could fill the store in a day, and then nobody could write.
	standardChanges = throttle.Rate{Every: 5 * time.Second, Burst: 500}
)

// limits holds the buckets. An address is a whole IPv4 address or the /64 of an
// IPv6 one.
type limits struct {
	keys      *throttle.Buckets[string]
	addresses *throttle.Buckets[netip.Prefix]
	failures  *throttle.Buckets[netip.Prefix]
	changes   *throttle.Buckets[string]
}

func newLimits(l Limits) *limits {
	return &limits{
		keys:      throttle.New[string](cmp.Or(l.Key, standardKey)),
		addresses: throttle.New[netip.Prefix](cmp.Or(l.Address, standardAddress)),
		failures:  throttle.New[netip.Prefix](cmp.Or(l.Failed, standardFailed)),
		changes:   throttle.New[string](cmp.Or(l.Changes, standardChanges)),
	}
}

// take takes a token for a call, or refuses it and says when to come back.
func (l *limits) take(by speaker, from netip.Prefix, now time.Time) error {
	if by.Role == access.Service {
		return nil
	}
	if from.IsValid() {
		if wait, ok := l.addresses.Take(from, now); !ok {
			return tooMany("TOO_MANY_CALLS", "This address calls too often.", wait)
		}
	}
	if by.key != "" {
		if wait, ok := l.keys.Take(by.key, now); !ok {
			return tooMany("TOO_MANY_CALLS", "This key calls too often.", wait)
		}
	}
	return nil
}

// change takes a token for a change by an owner or one of a dealer's, whoever
// speaks for them.
func (l *limits) change(v visit, now time.Time) error {
	if !v.caller.Role.Limited() || !access.Changes(v.method) {
		return nil
	}
	of := v.caller.Person
	if v.caller.Role == access.Dealer {
		of = v.caller.Organisation + " " + v.caller.Bearer
	}
	if wait, ok := l.changes.Take(of, now); !ok {
		return tooMany("TOO_MANY_CHANGES", "You changed very much in a short time.", wait)
	}
	return nil
}

// failed takes a token for a call by nobody we know, and gives its refusal, or
// another when there were too many. A key that is good opens the door all the
// same, or whoever shares an address could shut out the others; 256 random bits
// are not guessed by trying.
func (l *limits) failed(from netip.Prefix, now time.Time, refusal error) error {
	if !from.IsValid() {
		return refusal
	}
	if wait, ok := l.failures.Take(from, now); !ok {
		return tooMany("TOO_MANY_ATTEMPTS", "Too many calls without a good key came from this address.", wait)
	}
	return refusal
}

func tooMany(reason, sentence string, wait time.Duration) error {
	return &fault.Error{Kind: fault.Exhausted, Reason: reason, Message: sentence, RetryAfter: wait}
}
