package warranty

import (
	"time"

	"halfshaft/services/vehicle"
)

// ClaimState is where a claim stands. Its numbers are those of the API's
// enumeration.
type ClaimState uint8

// The states.
const (
	NoClaimState ClaimState = iota
	Draft                   // being written
	Submitted               // with the works for a decision
	Asked                   // the works has asked something first
	Accepted                // in whole or part, or as goodwill
	Declined
	Appealed  // asked to be looked at again
	Closed    // paid or otherwise done with
	Withdrawn // taken back by who made it
)

// Outcome is what was decided. Its numbers are those of the API's enumeration.
type Outcome uint8

// The outcomes.
const (
	NoOutcome      Outcome = iota
	AcceptWhole            // all of it is paid
	AcceptPart             // some of it is paid
	AcceptGoodwill         // nothing is owed, and something is paid all the same
	Decline                // nothing is paid
	outcomesEnd
)

// ClaimPart is a part of a claim. The first is the one that failed.
type ClaimPart struct {
	Part      string // part number
	Quantity  int
	FailedLot string // lot of what failed; empty when not known
	FittedLot string // lot of what was fitted
	UnitPrice int64  // of one, in hundredths of the currency
}

// ClaimLabour is work of a claim.
type ClaimLabour struct {
	Text    string
	Minutes int
	Rate    int64 // of an hour, in hundredths of the currency
}

// ClaimCost is another cost of a claim.
type ClaimCost struct {
	Text   string
	Amount int64 // in hundredths of the currency
}

// Authorisation lets work begin before the decision. What was authorised is
// paid, whatever is decided later.
type Authorisation struct {
	Limit int64 // in hundredths of the claim's currency
	Text  string
	By    string
	Time  time.Time
}

// Decision is a decision on a claim; the amounts are in hundredths of its
// currency.
type Decision struct {
	Outcome     Outcome
	Parts       int64 // paid for parts
	Work        int64 // paid for labour
	Other       int64 // paid for other costs
	Reason      string
	Exclusion   string // short name of the exclusion it rests on; empty for none
	By          string
	Time        time.Time
	AppealUntil vehicle.Date // the last day for an appeal; zero where none is left
}

// Paid is what the decision pays altogether.
func (d Decision) Paid() int64 { return d.Parts + d.Work + d.Other }

// Owed says whether the decision pays because it must, and not as goodwill.
func (d Decision) Owed() bool { return d.Outcome == AcceptWhole || d.Outcome == AcceptPart }

// Step is something that was asked or said about a claim.
type Step struct {
	State ClaimState // what the claim came to
	Text  string
	By    string
	Time  time.Time
}

// RecoveryState is how far asking a supplier back has come. Its numbers are
// those of the API's enumeration.
type RecoveryState uint8

// The states.
const (
	NoRecovery RecoveryState = iota
	RecoveryAsked
	RecoveryAgreed
	RecoveryReceived
	RecoveryRefused
	recoveriesEnd
)

// Recovery is what a supplier gives back, in hundredths of the claim's currency.
type Recovery struct {
	State    RecoveryState
	Supplier string
	Term     string // resource name of the version it rests on; empty for none
	Asked    int64
	Received int64
	Text     string // the supplier's reference, or why it was refused
}

// Claim asks that a repair be paid for.
type Claim struct {
	Serial       vehicle.Serial
	ID           string
	State        ClaimState
	Position     string
	Failed       vehicle.Date    // it failed or was found on that day
	Reading      vehicle.Entered // what the odometer showed then; zero when not known
	Symptom      string
	Cause        string
	Remedy       string
	Parts        []ClaimPart
	Labour       []ClaimLabour
	Other        []ClaimCost
	Currency     string   // of all amounts, ISO 4217
	Exclusions   []string // that the examination found
	ServiceEntry string   // of the repair; empty for none
	Organisation string   // who does or did the work; empty for the works

	Authorisation *Authorisation // nil when nothing was
	Decisions     []Decision     // the oldest first: the second answers an appeal
	Steps         []Step         // the oldest first
	Recovery      *Recovery      // nil for nothing
	Cover         *Cover         // on the day of the failure, as found when it was submitted, or looked at anew since; nil before
	RecordedBy    string
	Created       time.Time
}

// ClaimName gives the resource name of a claim,
// "vehicles/AM0147P/claims/0192f0".
func ClaimName(serial vehicle.Serial, id string) string {
	return "vehicles/" + string(serial) + "/claims/" + id
}

// Name is the resource name of the claim.
func (c *Claim) Name() string { return ClaimName(c.Serial, c.ID) }

// Last is the decision that holds; nil when there is none.
func (c *Claim) Last() *Decision {
	if len(c.Decisions) == 0 {
		return nil
	}
	return &c.Decisions[len(c.Decisions)-1]
}

// Totals are sums in hundredths of the currency.
type Totals struct {
	Parts     int64 // as claimed
	Work      int64 // labour as claimed, each line rounded half up
	Other     int64 // as claimed
	Claimed   int64 // all of it
	Paid      int64 // by the decision that holds
	Recovered int64 // from the supplier
	Net       int64 // left with the works: paid less recovered
}

// Move is who does something to a claim, when, and what they say to it.
type Move struct {
	By   string
	Time time.Time
	On   vehicle.Date // the day of Time, by which a last day is over; where two zones differ, the earlier
	// Latest is the day of Time up to which days have come, and from which days for
	// an appeal are counted; where two zones differ, the later. Zero is On.
	Latest vehicle.Date
	Text   string // without names
}
