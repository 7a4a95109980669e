package access

import (
	"time"

	"halfshaft/services/fault"
)

// How long a key that is replaced stays good beside its successor.
const (
	UsualOverlap   = 7 * 24 * time.Hour
	LongestOverlap = 90 * 24 * time.Hour
)

// Rotated gives a key that is replaced, and its successor without identifier
// and digest: for the same, made to last as long as the older one was. The
// older one ends after the overlap, or before, when it would have ended anyway.
//
// Two keys of a line are good at once, and no more: as long as the one that a
// key replaces, or one that replaces it, still opens the door, it is not
// replaced. near are those: what it replaces and what replaces it.
func Rotated(k Key, near []Key, overlap time.Duration, now time.Time) (older, newer Key, err error) {
	if overlap < 0 || overlap > LongestOverlap {
		return k, k, fault.InvalidField("overlap", overlap.String(), "0 to 90 days (2160h)")
	}
	if !k.Live(now) {
		return k, k, fault.New(fault.FailedPrecondition, "KEY_ENDED", "This key opens nothing any more; make another.")
	}
	for _, n := range near {
		if n.Live(now) {
			return k, k, fault.New(fault.FailedPrecondition, "KEY_ROTATING",
				"Two keys are good at once, and no more: %s goes with this one. Revoke one of them, or wait until the older one ends.", n.Name())
		}
	}
	older, newer = k, k
	newer.ID, newer.Digest, newer.Rotates, newer.Created = "", Digest{}, k.ID, now
	if !k.Expires.IsZero() {
		newer.Expires = now.Add(k.Expires.Sub(k.Created))
	}
	if end := now.Add(overlap); k.Expires.IsZero() || end.Before(k.Expires) {
		older.Expires = end
	}
	return older, newer, nil
}
