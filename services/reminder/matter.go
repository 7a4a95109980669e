package reminder

import (
	"slices"
	"time"

	"halfshaft/services/vehicle"
)

// Matter is what an item is that concerns its reader and not the vehicle: a link
// that they asked for, with which they confirm something, or that their address
// was replaced. As with a Handout, no pass selects such an item.
type Matter struct {
	Confirms Confirms  // "" where something was replaced
	Email    bool      // the mail address was replaced
	Phone    bool      // the telephone number was
	At       time.Time // when that was
}

// Confirms is what somebody confirms by a link that only the address on record
// gets.
type Confirms string

// What is confirmed.
const (
	GivesAway Confirms = "give-away" // that the vehicle is to go to a new owner
	Moves     Confirms = "move"      // that its reader is to be written to elsewhere
)

// ConfirmLasts is for how long such a link works: links.GiveAway and links.Move.
const ConfirmLasts = 2 * time.Hour

func (m Matter) purpose() Purpose {
	if m.Confirms != "" {
		return Confirm
	}
	return Changed
}

// matterItem is the identifier of such items, which no item of a programme has.
const matterItem = "PERSON"

// MatterItem is the item of a matter. Its round is named after what brought it up,
// a request or a change, so that each is told once.
func MatterItem(m Matter, cause string, today vehicle.Date) Item {
	return Item{
		ID: matterItem, Cycle: matterItem + "." + Reference(cause)[:16],
		Title: "Address of the reader", Sentence: "What concerns its reader.", ActBy: today, Matter: &m,
	}
}

// provable are the ways by which somebody can prove that they read what goes to
// the address on record: at once, and by a link.
func (r Recipient) provable() []Channel {
	var ways []Channel
	for _, way := range []Channel{Mail, Text} {
		if slices.Contains(r.Asked, way) {
			ways = append(ways, way)
		}
	}
	return ways
}

// MatterTo gives the draft that tells one person tied to the vehicle, by the first
// of the channels that reach them; ok is false where none does.
func (c Case) MatterTo(item Item, person string, ways func(Recipient) []Channel) (d Draft, ok bool) {
	at := slices.IndexFunc(c.People, func(r Recipient) bool { return r.Person == person })
	if at < 0 {
		return Draft{}, false
	}
	to := c.People[at]
	by := ways(to)
	if _, allowed := c.Allowed(to, item.Purpose()); !allowed || len(by) == 0 {
		return Draft{}, false
	}
	told := c.Vehicle
	told.Items = nil
	return Draft{Vehicle: told, To: to, Channel: by[0], Stage: Due, Lines: []Line{{Item: item, Stage: Due}}, Purpose: item.Purpose()}, true
}

// Confirmable are the ways for MatterTo by which somebody confirms.
func Confirmable(r Recipient) []Channel { return r.provable() }
