// Package reminderwords puts notices into words: mails, text messages and
// letters on paper, in the reader's language, units and habits.
//
// Every sentence stands in a file, words/<language>.yaml, and the shape of a
// mail in templates/; a works may lay files of its own over both. What the
// programme says of its items is translated by programme.<language>.yaml.
package reminderwords

import (
	"strings"
	"time"

	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// Works is how the works appears in what it sends.
type Works struct {
	Name            string   // "Aldermoor Works"
	From            string   // the address that notices come from; its domain names the Message-IDs
	ReplyTo         string   // where answers go; "" is From
	Phone           string   // as printed; "" for none
	UnsubscribeMail string   // a mailbox that takes unsubscriptions; "" for none
	Postal          []string // the lines of its postal address; nil for none
}

// Answers is the address for answers.
func (w Works) Answers() string {
	if w.ReplyTo != "" {
		return w.ReplyTo
	}
	return w.From
}

// Address is the lines of the postal address, without a first one that only
// repeats the name.
func (w Works) Address() []string {
	if len(w.Postal) > 0 && strings.TrimSpace(w.Postal[0]) == strings.TrimSpace(w.Name) {
		return w.Postal[1:]
	}
	return w.Postal
}

// Letter is all that a message says.
type Letter struct {
	Works     Works
	Draft     reminder.Draft
	Parts     map[string][]Part // what to ask for, by round
	Links     Links
	MessageID string
	Time      time.Time // when it is claimed
	Year      *Year     // for the letter at the year's end; nil for all others
}

// Part is one part to ask for.
type Part struct {
	Number   string // "" when the works must be asked for it
	Title    string
	Position string // where it goes
	Quantity int    // 0 when not known
	IfNeeded bool
	GoesWith bool // it is new whenever the part before it is
	Caution  string
}

// Links are where a press leads; "" for none.
type Links struct {
	Schedule, Odometer, Booked, Snooze, Done, Stop, Transfer, Calendar, Handbook, Confirm string

	HandbookUntil vehicle.Date // the last day on which Handbook surely works; zero where not known
}

// Year is the history of one year, and what the next one brings.
type Year struct {
	Year     int
	Driven   vehicle.Distance // in this year; 0 when not known
	Readings []Reading        // in order of their days
	Works    []Work           // in order of their days
	Measured []Change         // values that were measured more than once, or once in this year
	Next     []Coming         // in order of their days
}

// Reading is one reading that counts.
type Reading struct {
	Date  vehicle.Date
	Value vehicle.Entered // as the dial shows it
}

// Work is one item that was done.
type Work struct {
	Date     vehicle.Date
	Item     string // identifier: "E01"; "" for work outside the programme
	Title    string
	Workshop string // "" when not recorded
}

// Change is a measured value with the one before.
type Change struct {
	Characteristic, Position, Unit string
	Before, Now                    string // decimal text; Before is "" for the first
	BeforeDate, NowDate            vehicle.Date
	Lower, Upper                   string // decimal text; "" for no limit
}

// Coming is one item that falls in the next year.
type Coming struct {
	Item  string // identifier: "E01"
	Title string
	ActBy vehicle.Date
}

// Mail is a letter as a mail says it.
type Mail struct{ Language, Subject, Text, HTML string }

// Sheet is a letter for paper: finished words in order.
type Sheet struct {
	Language string  `json:"language"` // BCP 47 tag
	Subject  string  `json:"subject"`
	Date     string  `json:"date"` // as it is printed
	Serial   string  `json:"serial"`
	Blocks   []Block `json:"blocks"` // the greeting first, the works' name last
}

// Block is one piece of a message, of one of the kinds.
type Block struct {
	Kind     string   `json:"kind"`
	Mark     string   `json:"mark,omitempty"` // what stands before a caution: "CAUTION:"
	Text     string   `json:"text,omitempty"`
	Rows     []string `json:"rows,omitempty"`     // of a list, each a line; of the vehicle, its serial for the telephone
	Numbered bool     `json:"numbered,omitempty"` // of a list: each row begins with its number and a space
	Link     string   `json:"link,omitempty"`     // of a link or an aside, which no sheet has, or of a code, which only a sheet has
	Language string   `json:"language,omitempty"` // of the text, where it is not the message's
}

// The kinds of blocks.
const (
	Heading = "heading" // of the message
	Section = "section" // heading of one item, or of a part of the message
	Text    = "text"
	Vehicle = "vehicle"
	Strong  = "strong"  // a sentence that must not be missed
	Caution = "caution" // what can hurt
	List    = "list"
	Small   = "small" // what belongs at the foot
	Link    = "link"  // a press that leads somewhere
	Aside   = "aside" // a link that few need
	Code    = "code"  // on paper: a link as a square that a camera reads, with the text beside it
)
