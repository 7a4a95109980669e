package reminder

import "halfshaft/services/vehicle"

// Stage is how far the reminding of one round has gone. Stages only rise.
type Stage int

// The stages. The zero value is no stage: there is nothing to tell.
const (
	NoStage       Stage = iota
	Early               // some weeks before
	Due                 // its day has come
	Overdue             // its day is long past
	SecondOverdue       // still; the last notice
	Works               // the owner is left alone and the works is told
)

// String is the word that names and keys carry: "early".
func (s Stage) String() string {
	switch s {
	case Early:
		return "early"
	case Due:
		return "due"
	case Overdue:
		return "overdue"
	case SecondOverdue:
		return "second-overdue"
	case Works:
		return "works"
	}
	return "none"
}

// Channel is a way to reach a person, as names and keys carry it.
type Channel string

// The channels.
const (
	Mail   Channel = "mail"
	Text   Channel = "text"
	Letter Channel = "letter"
)

// Purpose is what somebody is written to for. Its numbers are those of the
// API's enumeration.
type Purpose int

// The purposes.
const (
	Service    Purpose = iota + 1 // work on the vehicle, and readings
	YearLetter                    // the year's history
	Safety                        // a safety campaign: no opt-out, no limit
)

// The cadence, in days. These are the works' habit, no standard.
const (
	// defaultNotice is how long before its day an item is first told when the
	// programme does not say.
	defaultNotice = 30
	// longestNotice bounds what a programme may say, so that Horizon holds.
	longestNotice = 60
	// overdueAfter is how long after its day an item is told a last time.
	overdueAfter = 30
	// silentAfter is how long after that last notice the works is told.
	silentAfter = 30
	// apart is the least time between two notices about one round.
	apart = 14
	// readAgain is the least time between two requests for a reading.
	readAgain = 91
	// visit is how near the leading item's day another must be to go into the
	// same message: an owner brings the vehicle once.
	visit = 30
)

// Horizon is how many days ahead the schedule must be asked for: what is
// first told that long before, with what is done on the same visit.
const Horizon = longestNotice + visit

// noticeDays is how long before its day an item is first told. It never takes
// more than a third of the round, so that work due two days after a ford, or a
// few weeks after the fitting, is not told before it is worth telling.
func (i Item) noticeDays() int {
	days := defaultNotice
	if i.NoticeDays > 0 {
		days = min(i.NoticeDays, longestNotice)
	}
	if !i.Began.IsZero() && i.Began.Before(i.ActBy) {
		days = min(days, max(1, i.Began.DaysUntil(i.ActBy)/3))
	}
	return days
}

// StageOn gives the stage that the calendar alone puts the item in: what was
// told before does not matter to it. It is at most Overdue.
func (i Item) StageOn(today vehicle.Date) Stage {
	if i.OwnerCheck || i.ActBy.IsZero() {
		return NoStage
	}
	left := today.DaysUntil(i.ActBy)
	if i.Reading {
		if left <= 0 {
			return Early
		}
		return NoStage
	}
	switch {
	case left <= -overdueAfter:
		return Overdue
	case left <= 0:
		return Due
	case left <= i.noticeDays():
		return Early
	}
	return NoStage
}
