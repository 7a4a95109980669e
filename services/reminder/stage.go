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
	SecondOverdue       // still; the last notice, where the cadence has it
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
	Handbook                      // the handbook, because somebody asked for it: see Handout
	Confirm                       // a link that works once, because somebody asked for it: see Matter
	Changed                       // that the address it goes to was replaced: see Matter
)

// word is the purpose as names and keys carry it; "" for service notices,
// which were there before there were purposes.
func (p Purpose) word() string {
	switch p {
	case YearLetter:
		return yearLetterWord
	case Safety:
		return "safety"
	case Handbook:
		return "handbook"
	case Confirm:
		return "confirm"
	case Changed:
		return "changed"
	}
	return ""
}

// Rules, in days, that hold whatever the cadence. These are the works' habit,
// no standard.
const (
	// readAgain is the least time between two requests for a reading.
	readAgain = 91
	// visit is how near the leading item's day another must be to go into the
	// same message: an owner brings the vehicle once.
	visit = 30
	// YearDays is how long after its day the letter of a year may still go.
	YearDays = 35
)

// Horizon is how many days ahead the schedule must be asked for: what is
// first told that long before, with what is done on the same visit.
const Horizon = longestEarly + visit

// SeasonOf says in the words of which season work is told: what a lay-up moved
// to its end is for the recommissioning, what is to be done by its eve is for
// putting away, and an item that is seasonal by its class belongs to whichever
// of the two its day lies at.
func (v Vehicle) SeasonOf(i Item) Season {
	eve := v.LayUpFrom.AddDays(-1)
	switch {
	case i.ActBy.IsZero() || i.Reading || i.Year != 0 || i.Campaign != nil:
	case !i.MovedTo.IsZero():
		return Season{Recommissioning, i.MovedTo}
	case v.LayUpFrom.IsZero():
	case i.ActBy == eve, i.Class == Seasonal && i.ActBy.Before(v.LayUpFrom):
		return Season{PuttingAway, v.LayUpFrom}
	case i.Class == Seasonal && !v.LayUpTo.IsZero() && i.ActBy.After(v.LayUpTo):
		return Season{Recommissioning, v.LayUpTo.AddDays(1)}
	}
	return Season{}
}

// lead is how long before its day an item is first told. It never takes more
// than a third of the round, so that work due two days after a ford, or a few
// weeks after the fitting, is not told before it is worth telling. Work of a
// season has the season's lead at least, for parts take their time; but nothing
// is told before its round began.
func (v Vehicle) lead(i Item, c Cadences) int {
	days := c.Of(i.Class).Early
	if i.NoticeDays > 0 {
		days = i.NoticeDays
	}
	round := 0 // not known
	if !i.Began.IsZero() && i.Began.Before(i.ActBy) {
		round = i.Began.DaysUntil(i.ActBy)
	}
	season := v.SeasonOf(i).Kind != NoSeason
	if round > 0 && days > 0 && i.Class != Seasonal {
		days = min(days, max(1, round/3))
	}
	if season && !(i.Class == Seasonal && i.NoticeDays > 0) {
		days = max(days, c.Of(Seasonal).Early)
	}
	if round > 0 {
		days = min(days, round)
	}
	return min(days, longestEarly)
}

// laidUp says whether the vehicle stands laid up on a day.
func (v Vehicle) laidUp(day vehicle.Date) bool {
	return !v.LayUpFrom.IsZero() && !day.Before(v.LayUpFrom) && (v.LayUpTo.IsZero() || !day.After(v.LayUpTo))
}

// asleep says whether the item is not to be told because the vehicle is laid
// up. What the recommissioning needs is told, and what the programme wants done
// while the vehicle stands: its day lies in the lay-up and was left there.
func (v Vehicle) asleep(i Item, today vehicle.Date) bool {
	return v.laidUp(today) && i.Year == 0 && v.SeasonOf(i).Kind != Recommissioning && (i.Reading || !v.laidUp(i.ActBy))
}

// StageOn gives the stage that the calendar alone puts the item in: what was
// told before does not matter to it. A request for a reading and the letter of
// a year have one stage, Early; a letter about a campaign has one, Due.
func (v Vehicle) StageOn(i Item, today vehicle.Date, c Cadences) Stage {
	if i.OwnerCheck || i.ActBy.IsZero() {
		return NoStage
	}
	cadence := c.Of(i.Class)
	late := i.ActBy.DaysUntil(today)
	switch {
	case i.Year != 0 && late > YearDays, i.Campaign != nil && late < 0:
		return NoStage
	case i.Campaign != nil:
		return Due
	case i.Reading || i.Year != 0:
		if late >= 0 {
			return Early
		}
		return NoStage
	case cadence.SecondOverdue > 0 && late >= cadence.Overdue+cadence.SecondOverdue:
		return SecondOverdue
	case late >= cadence.Overdue:
		return Overdue
	case late >= 0:
		return Due
	case -late <= v.lead(i, c):
		return Early
	}
	return NoStage
}
