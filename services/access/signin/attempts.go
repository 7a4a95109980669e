package signin

import (
	"time"

	"halfshaft/services/fault"
)

// Limit is how many failures cost nothing, and how the wait grows after them.
type Limit struct {
	Free  int           // failures without a wait
	First time.Duration // the wait after the next; each further one doubles it
	Most  time.Duration // the longest wait
}

// The limits. A code of six digits, three of which count at a time, is found
// with one try in 333,333: at a try in 15 minutes, behind a password, never.
// NIST SP 800-63B wants at most 100 failures in a row on one account (from
// memory), which at these waits takes a day.
var (
	// OfAccount spares who mistypes. Passkeys do not wait for it: a stranger who
	// guesses at somebody's password must not keep them out.
	OfAccount = Limit{Free: 5, First: 15 * time.Second, Most: 15 * time.Minute}
	// OfNetwork spares an office behind one address on a Monday morning.
	OfNetwork = Limit{Free: 20, First: 15 * time.Second, Most: 15 * time.Minute}
)

// ForgetAfter is how long after the last failure none counts any more.
const ForgetAfter = 24 * time.Hour

// Attempts are the failures of one account or network so far.
type Attempts struct {
	Failures int
	Open     time.Time // before it, nothing is looked at
	Last     time.Time
}

// Begin counts an attempt before it is looked at, as a failure, so that a
// hundred at once cannot all be the first; a success takes it back. It is
// refused, with when to come back, while there is a wait.
func (a Attempts) Begin(l Limit, now time.Time) (Attempts, error) {
	if !a.Last.IsZero() && !now.Before(a.Last.Add(ForgetAfter)) {
		a = Attempts{}
	}
	if now.Before(a.Open) {
		return a, &fault.Error{
			Kind: fault.Exhausted, Reason: "SIGN_IN_TOO_OFTEN", RetryAfter: a.Open.Sub(now),
			Message: "There were too many attempts to sign in. Wait a while and try again.",
		}
	}
	a.Failures++
	a.Last = now
	a.Open = now.Add(l.wait(a.Failures))
	return a, nil
}

// Undo takes back one attempt that was no failure.
func (a Attempts) Undo() Attempts {
	a.Failures = max(a.Failures-1, 0)
	a.Open = time.Time{}
	return a
}

// wait is how long comes after that many failures.
func (l Limit) wait(failures int) time.Duration {
	over := failures - l.Free
	if over <= 0 {
		return 0
	}
	wait := l.First
	for range over - 1 {
		if wait >= l.Most {
			break
		}
		wait *= 2
	}
	return min(wait, l.Most)
}
