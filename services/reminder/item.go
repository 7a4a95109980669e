package reminder

import (
	"fmt"
	"time"

	"halfshaft/services/vehicle"
)

// Vehicle is a vehicle with what is to be done on it, as the schedule has it.
type Vehicle struct {
	Serial      vehicle.Serial
	Sample      bool             // the programme's figures are samples that nobody has signed
	Unit        vehicle.Unit     // what its dial counts; "" when not known
	Estimated   vehicle.Distance // true distance by now, 0 when nothing is known
	LastReading vehicle.Date     // the day of the last reading that counts; zero for none
	Items       []Item
	Scrapped    bool         // nothing is told of it any more
	LostTrack   bool         // the works has looked for an owner in vain, or it left the country: no task for want of one
	LayUpFrom   vehicle.Date // the present or next lay-up; zero for none
	LayUpTo     vehicle.Date // its last day; zero while that is open
}

// Class is how insistently an item is reminded of; each has its Cadence.
type Class string

// The classes.
const (
	Routine  Class = "routine"
	Vital    Class = "safety"   // what the vehicle stops, steers and stays on the road by
	Settling Class = "settling" // bedding-in, and what an event started
	Seasonal Class = "seasonal" // putting away and bringing back
)

// Item is one item of the programme in its present round.
type Item struct {
	ID         string       // "E01"
	Cycle      string       // names the round and stays the same until it is done
	Title      string       // what is done, in a line
	ActBy      vehicle.Date // the day to act on; zero when there is nothing to do
	Began      vehicle.Date // when the round began; zero when not known
	NotBefore  vehicle.Date // for what an event started: not worth doing sooner; zero for none
	NoticeDays int          // how long before ActBy it is first told; 0: the usual time
	OwnerCheck bool         // the owner does it; it stands in the handbook and is never told
	Reading    bool         // no work: the owner is asked, once, what the odometer shows
	Year       int          // no work: the letter at the end of this year; 0 for none
	Campaign   *Campaign    // no work of the programme: a letter about a safety campaign; nil for none
	Handout    *Handout     // no work of the programme: a handbook that was asked for; nil for none
	Matter     *Matter      // no work of the programme: what concerns the reader and not the vehicle; nil for none
	Class      Class        // "" is Routine
	MovedTo    vehicle.Date // where a lay-up sent the work to its end: the day it is brought back; zero for none

	LastDone    vehicle.Date     // zero when never
	DrivenSince vehicle.Distance // in this round, estimated; 0 when not known
	DueDistance vehicle.Distance // true distance at which its distance limb falls; 0 without one
	Sentence    string           // why it is due, from the schedule, in English
	Reasons     []vehicle.Reason // the same as data: words in other languages and units are made from it
	Why         string           // why it is done at all, in plain words
	Caution     string           // what can hurt, and what to do against it
	Fluid       *Fluid           // nil when nothing is filled in
	Parts       []PartNeed
	Measured    []Measure
	Tools       []string
}

// Fluid is a fluid and how much of it goes in.
type Fluid struct {
	Name     string // class and grade
	Quantity vehicle.Quantity
	NeverMix string // what it must not meet; "" for nothing
}

// PartNeed is a part that the item asks for at a position.
type PartNeed struct {
	Position string
	Quantity int  // 0: as many as stand there
	IfNeeded bool // only when found worn
}

// Measure is a value that the mechanic measures and the works wants to know.
type Measure struct {
	Characteristic, Unit string
	Lower, Upper, Action string // decimal text; "" for no limit
	Method               string
}

// YearItem is the letter at the end of a year, sent from 27 December until 31
// January by the recipient's calendar (common practice, no source). Its round
// is named "YEAR.2026", which no item of a programme is.
func YearItem(year int) Item {
	return Item{
		ID: "YEAR", Cycle: fmt.Sprintf("YEAR.%d", year), Title: fmt.Sprintf("The year %d", year),
		ActBy: vehicle.MustDate(year, time.December, 27), Year: year,
	}
}
