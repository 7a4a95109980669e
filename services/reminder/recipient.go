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
	End     vehicle.Date // the day in UTC that no longer counts; zero while it lasts
}

// Lasts reports whether the tie holds at a moment. Days of ties are days in UTC
// wherever the person lives, as the access gate and the owner service have it:
// a change of owner takes effect everywhere at once.
func (t Tie) Lasts(now time.Time) bool {
	day := vehicle.DateOf(now.UTC())
	return !day.Before(t.Start) && (t.End.IsZero() || day.Before(t.End))
}

// Recipient is somebody who may be told: their address and their habits.
type Recipient struct {
	Person   string // identifier: "p0031"
	Name     string // how to address them
	Address  string // mail address; "" when there is none
	Phone    string // E.164; "" when there is none
	Postal   []string
	Ways     []Channel    // by which they can be reached today, the most wanted first: with an address, with the consent that the way needs, and not known to be dead
	YearWays []Channel    // the same for the letter at the year's end
	Safety   []Channel    // the same for safety campaigns, which need no consent: their ways, then all others with an address
	Unasked  []Channel    // ways for service notices that are passed over only for want of consent
	Asked    []Channel    // the same for what they asked for, which no consent is needed for, but for a text message
	Language string       // BCP 47 tag; "" is English
	Formats  string       // BCP 47 tag for dates and numbers; "" is Language
	Most     int          // service messages in 30 days over all vehicles; 0 is usualMost
	Deceased bool         // nothing is sent to them
	Refused  bool         // they took back every consent to service notices: as if opted out of them for every vehicle
	Yearly   bool         // they agreed to the letter at the year's end
	Role     string       // "owner", "caretaker", "payer" or "executor" of the vehicle in question: see Tied
	Notices  bool         // service notices about it go to them: see Tied
	Since    vehicle.Date // since when they are tied to it: see Tied
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

var usualHours = Hours{From: 9, Until: 18}

// Open reports whether a local time lies within the hours. It looks at the
// clock's face only, so a day that lacks an hour or has one twice needs no
// rule of its own.
func (h Hours) Open(local time.Time) bool {
	if h == (Hours{}) {
		h = usualHours
	}
	return h.From <= local.Hour() && local.Hour() < h.Until
}

// Tied gives everybody who is tied to a vehicle now, in the order of the ties and
// once each, whether or not they can or want to be told: Select says of each
// what becomes of them. Role is that of the first tie, or of the next where the
// first is no more than paying; service notices go to them when any of their
// ties says so. Somebody whose record is gone is left out.
func Tied(ties []Tie, people map[string]Recipient, now time.Time) []Recipient {
	var all []Recipient
	for _, t := range ties {
		r, known := people[t.Person]
		if !known || !t.Lasts(now) {
			continue
		}
		if at := slices.IndexFunc(all, func(r Recipient) bool { return r.Person == t.Person }); at >= 0 {
			all[at].Notices = all[at].Notices || t.Notices
			if t.Start.Before(all[at].Since) {
				all[at].Since = t.Start
			}
			if all[at].Role == "payer" {
				all[at].Role = t.Role
			}
			continue
		}
		r.Role, r.Notices, r.Since = t.Role, t.Notices, t.Start
		all = append(all, r)
	}
	return all
}

// waysFor gives the channels for a purpose, the most wanted first. A letter
// about a campaign goes by one way too, the first that works: the way that
// somebody reads is the quickest, also where the vehicle must not be driven;
// where it fails the next one follows, paper among them; and each later letter
// begins anew with the first.
func (r Recipient) waysFor(p Purpose) []Channel {
	switch p {
	case YearLetter:
		return r.YearWays
	case Safety:
		return r.Safety
	case Handbook:
		return r.Asked
	case Confirm:
		return r.provable()
	}
	return r.Ways
}

// Allowed says whether somebody tied to the vehicle may be written to for a
// purpose, and if not, why: Scrapped, Deceased, OptedOut, NoConsent, or "" for
// somebody whom service notices do not go to. It does not ask whether there is
// a way to reach them.
func (c Case) Allowed(r Recipient, p Purpose) (reason string, ok bool) {
	out, agreed, theirs := c.OptOuts[r.Person], !r.Refused, r.Notices
	if p == YearLetter {
		out, agreed, theirs = c.NoYear[r.Person], r.Yearly, true
	}
	switch {
	case c.Vehicle.Scrapped:
		return Scrapped, false
	case r.Deceased:
		return Deceased, false
	case p == Safety, p.Once():
		return "", true
	case out:
		return OptedOut, false
	case !agreed:
		return NoConsent, false
	}
	return "", theirs
}
