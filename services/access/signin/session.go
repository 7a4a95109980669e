package signin

import (
	"time"

	"halfshaft/services/access"
)

// When sessions end, of themselves.
const (
	// An administrator can let anybody in and read the audit; half an hour is
	// about a talk at the bench with the browser left open. NIST SP 800-63B-4
	// suggests an hour at its second level; an administrator gets less (from
	// memory).
	adminIdle = 30 * time.Minute
	// Others have the desk open all day and go to and fro between it and a
	// vehicle: a working day.
	othersIdle = 8 * time.Hour
	// Nobody works longer than this on one day. At the second level NIST SP
	// 800-63B-4 suggests at most 24 hours (from memory).
	absolute = 12 * time.Hour
)

// freshFor is how long after signing in one may change how one signs in: long
// enough to find the telephone with the codes, too short for whoever sits down
// at a browser that was left open.
const freshFor = 15 * time.Minute

// touchEvery is how often the use of a session is written down. It is far
// below the shortest idle time, and spares a write for each page.
const touchEvery = time.Minute

// Session is when somebody signed in, and when they were last seen.
type Session struct {
	Created, LastUse time.Time
}

// Ends gives when the session ends unless it is used again.
func (s Session) Ends(role access.Role) time.Time {
	idle := othersIdle
	if role == access.Administrator {
		idle = adminIdle
	}
	last := s.Created.Add(absolute)
	if next := s.LastUse.Add(idle); next.Before(last) {
		return next
	}
	return last
}

// Open reports whether the session is good at a moment. One that begins later
// than that was made by a clock that is ahead, and is good: refusing it would
// keep everybody out for the difference.
func (s Session) Open(role access.Role, now time.Time) bool { return now.Before(s.Ends(role)) }

// Fresh reports whether the sign-in was so short a while ago that how one signs
// in may be changed.
func (s Session) Fresh(now time.Time) bool { return now.Before(s.Created.Add(freshFor)) }

// Touch reports whether a use at that moment is to be written down.
func (s Session) Touch(now time.Time) bool { return !now.Before(s.LastUse.Add(touchEvery)) }

// Longest is how long after its beginning no session is good, whatever its
// role: what is older may be forgotten.
const Longest = absolute
