package reminder

import (
	"halfshaft/services/vehicle"
)

// Pending is an item that comes up and what becomes of it for one person.
type Pending struct {
	Serial   vehicle.Serial
	Person   string // "" where nobody can be told
	Item     Item
	Stage    Stage  // the one that the calendar puts it in
	Reason   string // one of the Reason constants
	Sentence string
	Next     vehicle.Date // when it changes by itself; zero when it does not
	Notice   string       // identifier of the notice that told it last, or will; "" for none
}

// Why an item stands where it does. The words are those of the API.
const (
	Told          = "TOLD"
	NotYet        = "NOT_YET"
	OutsideHours  = "OUTSIDE_HOURS"
	MonthlyLimit  = "MONTHLY_LIMIT"
	TooSoonAfter  = "TOO_SOON_AFTER"
	IsBooked      = "BOOKED"
	IsSnoozed     = "SNOOZED"
	IsSaidDone    = "SAID_DONE"
	OptedOut      = "OPTED_OUT"
	NoConsent     = "NO_CONSENT"
	NoWay         = "NO_WAY"
	Nobody        = "NOBODY"
	Deceased      = "DECEASED"
	Scrapped      = "SCRAPPED"
	WaitingToSend = "WAITING_TO_SEND"
	LetterToPrint = "LETTER_TO_PRINT"
	IsParked      = "PARKED"
	WorksTold     = "WORKS_TOLD"
	Unreadable    = "UNREADABLE" // of a vehicle as a whole
)
