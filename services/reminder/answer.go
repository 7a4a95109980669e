package reminder

import (
	"time"

	"halfshaft/services/vehicle"
)

// AnswerKind is what somebody told the works about rounds. Its numbers are
// those of the API's enumeration.
type AnswerKind int

// The kinds.
const (
	Booked  AnswerKind = iota + 1 // a workshop has it on a day
	Snoozed                       // not before a day
	Done                          // it is done
)

// Answer is what somebody told the works about rounds that they were reminded
// of. While it holds, nobody is reminded of these rounds.
type Answer struct {
	ID           string
	Serial       vehicle.Serial
	Person       string // "" when the works recorded it
	Kind         AnswerKind
	Cycles       []string
	Day          vehicle.Date // booked for, not before, done on
	Workshop     string
	ServiceEntry string // resource name; "" for none
	Notice       string // identifier of the notice that was answered; "" for none
	Created      time.Time
	Withdrawn    time.Time // zero while it holds
	RecordedBy   string
}
