package owner

import (
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// StandingState is what has become of a vehicle. Its numbers are those of the
// API's enumeration.
type StandingState uint8

// The states.
const (
	NoStanding   StandingState = iota // as InUse
	InUse                             // in somebody's hands whom the works knows, or ought to
	OwnerUnknown                      // somewhere; its owner was looked for in vain
	Exported                          // out of the country
	Scrapped                          // no more
	standingsEnd
)

// Standing says what has become of a vehicle as far as its people go.
type Standing struct {
	Serial     vehicle.Serial
	State      StandingState
	Since      vehicle.Date
	Note       string // how that is known, without names
	RecordedBy string
	Updated    time.Time
}

const maxNote = 500 // characters

// Faults says what is wrong with a standing by itself, as of a day.
func (s Standing) Faults(today vehicle.Date) []fault.Field {
	var out []fault.Field
	if s.State == NoStanding || s.State >= standingsEnd {
		out = append(out, fault.Field{Name: "state", Want: "IN_USE, OWNER_UNKNOWN, EXPORTED or SCRAPPED"})
	}
	if s.Since.IsZero() || s.Since.After(today) {
		out = append(out, fault.Field{Name: "since_date", Got: dateOrNothing(s.Since), Want: "today, " + today.String() + ", or earlier"})
	}
	if !oneLine(s.Note, maxNote) {
		out = append(out, fault.Field{Name: "note", Got: Described(s.Note), Want: fault.AtMost(maxNote) + " on one line, without spaces around them"})
	}
	return out
}

func dateOrNothing(d vehicle.Date) string {
	if d.IsZero() {
		return ""
	}
	return d.String()
}

// Same reports whether two standings say the same, whoever recorded them.
func (s Standing) Same(o Standing) bool {
	return s.Serial == o.Serial && s.State == o.State && s.Since == o.Since && s.Note == o.Note
}
