package warranty

import (
	"halfshaft/services/vehicle"
)

// State is an answer about cover. Its numbers are those of the API's
// enumeration.
type State uint8

// The answers.
const (
	NoState    State = iota
	Covered          // parts or labour or both
	NotCovered       // by this term, or by none
	Unknown          // it hangs on something that is not on record
)

// Limb is what ends a term.
type Limb uint8

// The limbs.
const (
	NoLimb       Limb = iota
	TimeLimb          // its months
	DistanceLimb      // its true distance
	BothLimbs         // both are over
	OwnerLimb         // the vehicle has another owner
)

// TermCover is what one term means for a position on a day.
type TermCover struct {
	Term     Term
	State    State
	First    vehicle.Date     // the first day covered; zero when not known
	Last     vehicle.Date     // the last day covered; zero for no limit of time or when not known
	Until    vehicle.Distance // true distance of the vehicle up to which it covers, that itself included
	Limited  bool             // Until holds; false for no limit, or when it is not known
	Added    int              // days that days out of service added
	EndedBy  Limb             // where it is over; NoLimb otherwise
	OfRepair bool             // what a repair got beside the rest of the term
	Repair   *Repair          // that repair
	Reasons  []vehicle.Reason
	Question string // what to ask where it is Unknown
}

// Cover is the answer to a Question.
type Cover struct {
	Position string
	On       vehicle.Date // the day asked about; of the two days of a moment, the works'
	Distance TrueDistance
	State    State
	Parts    bool        // whether parts are paid for
	Work     bool        // whether labour is
	Terms    []TermCover // each term there is for it, what covers first
	Reasons  []vehicle.Reason
	Sentence string
	Question string // what to ask next; empty when nothing is
	Goodwill bool   // not covered, and near enough to the end that the works looks at it
	Sample   bool   // a term it rests on is a sample that nobody has signed
}

// Best is the term that decides: of those that cover the one that ends last, of
// others the nearest to covering. nil when there is none.
func (c *Cover) Best() *TermCover {
	if len(c.Terms) == 0 {
		return nil
	}
	return &c.Terms[0]
}
