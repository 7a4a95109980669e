package reminder

import (
	"fmt"
	"strings"

	"halfshaft/services/vehicle"
)

// Ownerless is a vehicle of a campaign of which nobody knows whose it is: there
// is no letter to write, and the works must look for its owner.
type Ownerless struct {
	Serial   vehicle.Serial
	Campaign string // identifier: "C-2026-02"
	Title    string
	StopUse  bool
	Since    vehicle.Date
}

// findOwnerMark parts the campaign from the day in the name of a search.
const findOwnerMark = ".owner-"

// Cycle names the search, "C-2026-02.owner-2026-05-18", so that the works is told
// of it once. Who is known, and later no longer, is looked for anew.
func (o Ownerless) Cycle() string { return o.Campaign + findOwnerMark + o.Since.String() }

// SearchedFor gives the campaign that a task to find an owner is about.
func SearchedFor(cycle string) string {
	campaign, _, _ := strings.Cut(cycle, findOwnerMark)
	return campaign
}

// Task is what the works is told.
func (o Ownerless) Task() TaskDraft {
	why := ""
	if o.StopUse {
		why = "It is not to be driven before the remedy. "
	}
	return TaskDraft{Serial: o.Serial, Kind: FindOwner, Cycles: []string{o.Cycle()}, Text: fmt.Sprintf(
		"Find the owner of %s: campaign %s, %s. Nobody knows whose it is since %s, so nobody is written to. %s"+
			"Ask whoever had it last, the workshop that saw it last and the register, and record the owner with an address.",
		o.Serial, o.Campaign, o.Title, o.Since.Long(), why)}
}

// LetterWentOut says by which way a letter about a campaign went out, for the
// list of the campaign.
func LetterWentOut(c Channel) string { return "It went out " + c.by() + "." }
