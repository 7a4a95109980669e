package reminder

import (
	"strings"
	"time"

	"halfshaft/services/vehicle"
)

// OptOut says that a person wants nothing about a vehicle for a purpose. It
// never stops a safety campaign.
type OptOut struct {
	Serial  vehicle.Serial
	Person  string
	Created time.Time
	Way     string  // one of Ways
	Purpose Purpose // 0 is Service; always one that Ends
}

// Ends reports whether somebody can say that they want no more of what is for the
// purpose: not of a safety campaign, nor of what comes once.
func (p Purpose) Ends() bool { return p != Safety && !p.Once() }

// Once reports whether messages for the purpose come once, because of something
// that somebody did, and go out as soon as they are claimed: no pass selects them.
func (p Purpose) Once() bool { return p == Handbook || p == Confirm || p == Changed }

// Ways are the ways in which an opt-out may come.
func Ways() []string { return []string{"one-click", "page", "staff", "mail", "text", "complaint"} }

// yearLetterWord is the purpose as names carry it; service has none.
const yearLetterWord = "year-letter"

// ID is the opt-out's identifier: "AM0147P.p0031" for service notices,
// "AM0147P.p0031.year-letter" for the letter at the year's end.
func (o OptOut) ID() string {
	id := string(o.Serial) + "." + o.Person
	if o.Purpose == YearLetter {
		id += "." + yearLetterWord
	}
	return id
}

// ParseOptOut takes an identifier apart: vehicle, person and purpose; false for
// one that ID never made.
func ParseOptOut(id string) (OptOut, bool) {
	serial, ok := SerialOf(id)
	if !ok {
		return OptOut{}, false
	}
	person, word, more := strings.Cut(id[len(serial)+1:], ".")
	o := OptOut{Serial: serial, Person: person, Purpose: Service}
	if more {
		o.Purpose = YearLetter
	}
	return o, person != "" && (!more || word == yearLetterWord)
}
