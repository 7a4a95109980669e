package warranty

import (
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/vehicle"
)

// Giver is who promises a term. Its numbers are those of the API's enumeration.
type Giver uint8

// The givers.
const (
	NoGiver  Giver = iota
	Works          // the works
	Supplier       // who supplied the part
	giversEnd
)

// Start is the event that a term begins with. Its numbers are those of the
// API's enumeration.
type Start uint8

// The events.
const (
	NoStart          Start = iota
	FromDelivery           // of the vehicle to its first owner
	FromFitting            // of the unit, but never before delivery
	FromBuild              // of the vehicle at the works
	FromRegistration       // of the rebuilt vehicle, the first
	FromRepair             // of the unit under whatever term, or at the owner's cost
	startsEnd
)

// Midnight is by whose clock a day ends under a term. Its numbers are those of
// the API's enumeration.
type Midnight uint8

// The clocks. Unless a term says otherwise a day lasts while it is that day in
// either zone, which is in the customer's favour.
const (
	EitherMidnight Midnight = iota
	WorksMidnight
	OwnerMidnight
	midnightsEnd
)

// Exclusion is something that a term does not cover.
type Exclusion struct {
	ID        string   // short name that claims quote: "wear"
	Text      string   // a sentence for the customer
	Positions []string // excluded whatever the cause; none: a person finds out for each claim
}

// RepairTerm is what a part gets that was repaired or replaced under a term:
// the rest of the term, or this from the day of the repair, whichever ends
// later. The zero value is the rest only.
type RepairTerm struct {
	Months   int              // 0: none of its own
	Distance vehicle.Distance // from the repair; 0: no limit of distance
}

// Term is one version of a promise. It never changes: a vehicle or unit has the
// version that was in force when its term began.
type Term struct {
	ID       string // "WORKS-12"
	Version  int    // from 1
	Title    string
	Giver    Giver
	Supplier string // the name, for a supplier's

	Releases  []string // none: all
	Positions []string // with no positions and no parts it is for the whole vehicle
	Parts     []string // part numbers, wherever they stand

	Start       Start
	Months      int              // 0: no limit of time
	Distance    vehicle.Distance // true distance from the start; 0: no limit
	Midnight    Midnight
	CoversParts bool
	CoversWork  bool // labour
	Exclusions  []Exclusion
	Conditions  []string // what the owner has to do, each a sentence

	Transferable      bool // goes with the vehicle to another owner
	ExtendedByDaysOut bool // days out of service for a covered fault are added
	Repair            RepairTerm

	Effective vehicle.Date // the first day on which vehicles and units get this version
	Withdrawn bool         // from that day on nobody gets the term; who has it keeps it
	Sample    bool         // nobody has signed it
	SignedBy  string
}

// TermName gives the resource name of a version,
// "warrantyTerms/WORKS-12/versions/1".
func TermName(id string, version int) string {
	return fmt.Sprintf("warrantyTerms/%s/versions/%d", id, version)
}

// Name is the resource name of the version.
func (t *Term) Name() string { return TermName(t.ID, t.Version) }

// WholeVehicle says whether the term is for the vehicle and not for certain
// positions or parts.
func (t *Term) WholeVehicle() bool { return len(t.Positions) == 0 && len(t.Parts) == 0 }

// By is who gives it, for a sentence: "the works" or the supplier's name.
func (t *Term) By() string {
	if t.Giver == Supplier {
		return t.Supplier
	}
	return "the works"
}

// Excludes gives the exclusion of that short name.
func (t *Term) Excludes(id string) (Exclusion, bool) {
	i := slices.IndexFunc(t.Exclusions, func(x Exclusion) bool { return x.ID == id })
	if i < 0 {
		return Exclusion{}, false
	}
	return t.Exclusions[i], true
}

// OrderTerms sorts versions by name: by term, then by number.
func OrderTerms(a, b Term) int {
	if c := strings.Compare(a.ID, b.ID); c != 0 {
		return c
	}
	return a.Version - b.Version
}

// StandardTerm is the works' own: one year, parts and labour, from delivery.
// Common practice of such works, no source; a sample until the works' engineer
// signs.
func StandardTerm(effective vehicle.Date) Term {
	return Term{
		ID: "WORKS-12", Version: 1, Title: "One year, parts and labour", Giver: Works,
		Start: FromDelivery, Months: 12, CoversParts: true, CoversWork: true,
		Exclusions: []Exclusion{
			{ID: "wear", Text: "Wear in ordinary use: brake linings, clutch lining, wiper blades, bulbs and tyres that wore as such things do."},
			{ID: "neglect", Text: "Damage that came of service that was not done, where the missing service caused it."},
			{ID: "accident", Text: "Damage by an accident, by water above the wading depth, or by loads above the permitted weight."},
			{ID: "alteration", Text: "Damage that came of a part or an alteration that the works did not fit or approve."},
		},
		Conditions: []string{
			"Tell the works as soon as you notice a fault, and do not drive on where that would make it worse.",
			"Have the vehicle serviced as its programme says, by anybody competent, and keep what shows it.",
		},
		Transferable: true, ExtendedByDaysOut: true, Repair: RepairTerm{Months: 3},
		Effective: effective, Sample: true,
	}
}
