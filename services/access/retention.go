package access

import (
	"time"

	"halfshaft/services/vehicle"
)

// KeptMonths is how long what somebody came in with is kept after its end.
const KeptMonths = 12

// Ended gives when the key ceased to open the door; false while it opens it.
func (k Key) Ended(now time.Time) (time.Time, bool) {
	switch {
	case k.Live(now):
		return time.Time{}, false
	case k.Revoked.IsZero() || !k.Expires.IsZero() && k.Expires.Before(k.Revoked):
		return k.Expires, true
	}
	return k.Revoked, true
}

// Expired reports whether the key ended so long ago that its record goes.
func (k Key) Expired(now time.Time) bool {
	ended, over := k.Ended(now)
	return over && !ended.After(vehicle.MonthsBefore(now, KeptMonths))
}

// Expired reports whether the account was closed so long ago that the name of
// its holder, and what they signed in with, goes. Its identifier stays: it
// stands in records, and is nobody else's ever.
func (a Account) Expired(now time.Time) bool {
	return !a.Closed.IsZero() && !a.Closed.After(vehicle.MonthsBefore(now, KeptMonths))
}

// Expired reports whether the organisation was closed so long ago that how it
// was reached goes. Its name stays with the records of what it did.
func (o Organisation) Expired(now time.Time) bool {
	return !o.Closed.IsZero() && !o.Closed.After(vehicle.MonthsBefore(now, KeptMonths))
}
