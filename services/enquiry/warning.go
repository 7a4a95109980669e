package enquiry

import (
	"fmt"

	"halfshaft/services/vehicle"
)

// Circumstances are what the page for the telephone knows of a vehicle, as far
// as its warnings and questions need it.
type Circumstances struct {
	Serial vehicle.Serial
	Today  vehicle.Date

	Standing      Standing
	StandingSince vehicle.Date
	DoubtIdentity string // what does not fit about which vehicle it is, as a sentence; "" for nothing

	Campaigns []Campaign
	People    []Person     // tied today; none where the caller may not read people
	Tied      bool         // whether somebody is tied to it today, whoever it is
	KnowsTies bool         // whether the ties could be read
	Executor  vehicle.Date // since when an executor is tied to it; zero: none is

	Doubtful    []Doubtful
	LastReading vehicle.Date    // zero: there is none
	KnowsUse    bool            // whether a use was ever declared, or that could not be read
	KnowsReads  bool            // whether the readings could be read
	ReadingAsk  *vehicle.Reason // why a reading would change a date; nil for no need
	FollowUps   []FollowUp      // open enquiries to come back to, the oldest day first
	CoverAsk    string          // what cover hangs on; "" for nothing
	CoverName   string          // of the cover that asks
}

// Standing is what became of a vehicle, as far as a warning goes.
type Standing uint8

// The standings.
const (
	InUse Standing = iota
	OwnerUnknown
	Exported
	Scrapped
)

// Campaign is a campaign that is open for the vehicle, or a bulletin that
// forbids something.
type Campaign struct {
	Name    string // resource name of its follow-up or bulletin
	ID      string // "C-2026-02"
	Title   string
	Advice  bool // no campaign: nothing to be done
	Open    bool // its remedy is not carried out
	Booked  bool
	StopUse bool
	Hold    bool
	Meanw   string // what to do until it is put right
}

// Person is somebody tied to the vehicle, without their name.
type Person struct {
	Name     string // resource name of the tie
	Role     string // "owner"
	Deceased vehicle.Date
	Ways     int // by how many ways they can be reached today
}

// Doubtful is a reading that waits for somebody.
type Doubtful struct {
	Name  string
	Date  vehicle.Date
	Value vehicle.Entered
	Says  []string // the likely explanations, the likeliest first
}

// FollowUp is an enquiry to come back to.
type FollowUp struct {
	Name    string
	Day     vehicle.Date
	Symptom string // or another short word for what it is about
}

// Warnings gives what must be said before anything else, the gravest first.
func (c Circumstances) Warnings() []string {
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if c.DoubtIdentity != "" {
		say("Which vehicle it is is in doubt: %s", c.DoubtIdentity)
	}
	for _, b := range c.Campaigns {
		if b.StopUse {
			say("STOP USE: it must not be driven before %s is put right: %s.%s", b.ID, b.Title, meanwhile(b.Meanw))
		}
	}
	for _, b := range c.Campaigns {
		if b.Hold {
			say("Hold: it does not leave the works before %s is put right: %s.", b.ID, b.Title)
		}
	}
	if c.Standing == Scrapped {
		say("It was scrapped%s: nothing is due on it any more; its record stays.", since(c.StandingSince))
	}
	for _, p := range c.People {
		if !p.Deceased.IsZero() {
			say("The %s on record died on %s: ask who speaks for the estate, and say nothing of money or of other people before that is known.", p.Role, p.Deceased.Long())
		}
	}
	if !c.Executor.IsZero() {
		say("It belongs to an estate: an executor speaks for it since %s. Ask whether it is they who call.", c.Executor.Long())
	}
	for _, b := range c.Campaigns {
		if b.Open && !b.StopUse && !b.Advice {
			booked := ""
			if b.Booked {
				booked = " A day is agreed."
			}
			say("Open campaign %s: %s.%s%s", b.ID, b.Title, booked, meanwhile(b.Meanw))
		}
	}
	switch c.Standing {
	case OwnerUnknown:
		say("Nobody knows whose it is%s: ask who is calling, and what they are to it.", since(c.StandingSince))
	case Exported:
		say("It left the country%s, as far as is known.", since(c.StandingSince))
	}
	return out
}

func meanwhile(text string) string {
	if text == "" {
		return ""
	}
	return " Until then: " + text
}

func since(d vehicle.Date) string {
	if d.IsZero() {
		return ""
	}
	return " on " + d.Long()
}
