package reminder

import (
	"slices"
	"strings"
	"time"

	"halfshaft/services/fault"
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
	Note         string
	Sealed       []byte // Workshop and Note under the person's key, as they are kept in place of them; nil for none
	ServiceEntry string // resource name; "" for none
	Notice       string // identifier of the notice that was answered; "" for none
	Created      time.Time
	Withdrawn    time.Time // zero while it holds
	RecordedBy   string
}

// How long an answer may silence, in days. The numbers are the works' habit
// (common practice, no source).
const (
	bookedGrace   = 7   // after the day it was booked for
	longestBooked = 180 // ahead
	longestSnooze = 180
	vitalSnooze   = 30  // for what bears on safety
	mostCycles    = 40  // in one answer
	mostWorkshop  = 200 // characters
	mostNote      = 500 // characters
)

// Until gives the first day on which the rounds are reminded of again; the zero
// date when the answer silences them until it is withdrawn.
func (a Answer) Until() vehicle.Date {
	switch a.Kind {
	case Booked:
		return a.Day.AddDays(bookedGrace)
	case Snoozed:
		return a.Day
	}
	return vehicle.Date{}
}

// Silences reports whether nobody is to be reminded of the round on a day.
func (a Answer) Silences(cycle string, today vehicle.Date) bool {
	until := a.Until()
	return a.Withdrawn.IsZero() && slices.Contains(a.Cycles, cycle) && (until.IsZero() || today.Before(until))
}

// Check refuses an answer that says nothing, or more than somebody may, about
// the vehicle as it is on the day it is given. Every wrong field is named as
// the API has it.
func (a Answer) Check(v Vehicle, today vehicle.Date) error {
	var wrong []fault.Field
	refuse := func(name, got, want string) { wrong = append(wrong, fault.Field{Name: name, Got: got, Want: want}) }
	if a.Kind < Booked || a.Kind > Done {
		refuse("kind", itoa(int(a.Kind)), "booked, snoozed or done")
	}
	if n := len(a.Cycles); n == 0 || n > mostCycles {
		refuse("cycles", itoa(n)+" of them", "1 to "+itoa(mostCycles))
	}
	vital := false
	var began vehicle.Date
	for n, cycle := range a.Cycles {
		at := slices.IndexFunc(v.Items, func(i Item) bool { return i.Cycle == cycle && !i.ActBy.IsZero() && i.Purpose() == Service })
		switch {
		case at < 0:
			refuse("cycles["+itoa(n)+"]", cycle, "a round of this vehicle that is open")
			continue
		case slices.Contains(a.Cycles[:n], cycle):
			refuse("cycles["+itoa(n)+"]", cycle, "each round once")
		case v.Items[at].Reading && a.Kind != Snoozed:
			refuse("cycles["+itoa(n)+"]", cycle, "a round of work: a reading is reported or put off")
		}
		vital = vital || v.Items[at].Class == Vital
		if b := v.Items[at].Began; b.After(began) && !b.After(today) {
			began = b
		}
	}
	if from, to := a.days(vital, began, today); !a.Day.Valid() || a.Day.Before(from) || !to.IsZero() && a.Day.After(to) {
		refuse("answer_date", a.Day.String(), span(from, to))
	}
	if fault.Longer(a.Workshop, mostWorkshop) {
		refuse("workshop", fault.Length(a.Workshop), fault.AtMost(mostWorkshop))
	}
	if fault.Longer(a.Note, mostNote) {
		refuse("note", fault.Length(a.Note), fault.AtMost(mostNote))
	}
	return fault.InvalidFields(wrong)
}

// days gives the first and the last day that an answer may name.
func (a Answer) days(vital bool, began, today vehicle.Date) (from, to vehicle.Date) {
	switch {
	case a.Kind == Booked:
		return today, today.AddDays(longestBooked)
	case a.Kind == Snoozed && vital:
		return today.AddDays(1), today.AddDays(vitalSnooze)
	case a.Kind == Snoozed:
		return today.AddDays(1), today.AddDays(longestSnooze)
	}
	return began, today
}

func span(from, to vehicle.Date) string {
	switch {
	case from.IsZero():
		return "a day not after " + to.String()
	}
	return "a day from " + from.String() + " to " + to.String()
}

// SaidDoneTask gives the task that asks the works for the paper of work that
// somebody says is done.
func (a Answer) SaidDoneTask(now time.Time) Task {
	items := make([]string, len(a.Cycles))
	for n, cycle := range a.Cycles {
		items[n], _, _ = strings.Cut(cycle, ".")
	}
	return Task{
		ID:     string(a.Serial) + "." + a.ID + "." + SaidDone.word(),
		Serial: a.Serial, Kind: SaidDone, Notice: a.Notice, Created: now,
		Text: "Work on " + string(a.Serial) + " is said to be done on " + a.Day.Long() + ": " + strings.Join(items, ", ") +
			". Ask for the invoice or the measured values and record them, or withdraw the answer.",
	}
}
