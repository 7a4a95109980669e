package reminder

import (
	"slices"
	"time"

	"halfshaft/services/vehicle"
)

// Tie is what the owner's records say of one person and one vehicle.
type Tie struct {
	Person  string // identifier: "p0031"
	Notices bool   // service notices go to this person
	Role    string // as in Recipient
	Start   vehicle.Date
	End     vehicle.Date // the day that no longer counts; zero while it lasts
}

// On reports whether the tie holds on a day.
func (t Tie) On(day vehicle.Date) bool {
	return !day.Before(t.Start) && (t.End.IsZero() || day.Before(t.End))
}

// Recipient is somebody who may be told: their address and their habits.
type Recipient struct {
	Person   string // identifier: "p0031"
	Name     string // how to address them
	Address  string // mail address; "" when there is none
	Phone    string // E.164; "" when there is none
	Postal   []string
	Ways     []Channel // by which they can be reached, the most wanted first
	Language string    // BCP 47 tag; "" is English
	Formats  string    // BCP 47 tag for dates and numbers; "" is Language
	Most     int       // messages in 30 days over all vehicles; 0 is the works' number
	Deceased bool      // nothing is sent to them
	Refused  bool      // they took back every consent to service notices: as if opted out of them for every vehicle
	Yearly   bool      // they agreed to the letter at the year's end
	Role     string    // "owner", "caretaker", "payer" or "executor" of the vehicle in question
	Unit     vehicle.Unit
	Zone     *time.Location // nil is UTC
	Hours    Hours
}

// Local gives a moment by the person's clock.
func (r Recipient) Local(t time.Time) time.Time {
	if r.Zone == nil {
		return t.UTC()
	}
	return t.In(r.Zone)
}

// Reachable reports whether a message may arrive now.
func (r Recipient) Reachable(now time.Time) bool { return r.Hours.Open(r.Local(now)) }

// Hours are the hours of the day in which messages may arrive, by the clock on
// the person's wall: from the first until before the second. Both zero means
// 9 to 18.
type Hours struct{ From, Until int }

// Open reports whether a local time lies within the hours. It looks at the
// clock's face only, so a day that lacks an hour or has one twice needs no
// rule of its own.
func (h Hours) Open(local time.Time) bool {
	if h == (Hours{}) {
		h = Hours{From: 9, Until: 18}
	}
	return h.From <= local.Hour() && local.Hour() < h.Until
}

// Receivers gives, in the order of the ties, the people who are to be told
// about a vehicle now: tied to it today by their own calendar, wanting
// notices, not opted out, and with an address. Somebody with two ties is
// given once.
//
// nobody is true when the works has nobody to write to at all. It stays false
// when everybody who could be written to has opted out: that silence is
// wanted.
func Receivers(ties []Tie, people map[string]Recipient, optedOut map[string]bool, now time.Time) (to []Recipient, nobody bool) {
	nobody = true
	seen := map[string]bool{}
	for _, t := range ties {
		r, known := people[t.Person]
		if !known || !t.Notices || seen[t.Person] || r.Address == "" || !t.On(vehicle.DateOf(r.Local(now))) {
			continue
		}
		seen[t.Person], nobody = true, false
		if !optedOut[t.Person] {
			to = append(to, r)
		}
	}
	return to, nobody
}

// WithoutAddress gives the people who are tied to a vehicle now and want
// notices, and whom the works can only telephone, in the order of the ties.
func WithoutAddress(ties []Tie, people map[string]Recipient, now time.Time) []string {
	var some []string
	for _, t := range ties {
		r, known := people[t.Person]
		if known && t.Notices && r.Address == "" && t.On(vehicle.DateOf(r.Local(now))) && !slices.Contains(some, t.Person) {
			some = append(some, t.Person)
		}
	}
	return some
}
