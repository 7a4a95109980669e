package warranty

import (
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Appeals is how long somebody has for an appeal, and the works for its answer.
type Appeals struct {
	Days   int // after the decision, for an appeal
	Answer int // after the appeal, for its decision
}

// StandardAppeals is 60 days for an appeal, which is the works' own (common
// practice, no source), and 40 days for its answer: 16 CFR 703.5(d), as an
// example of law and from memory.
func StandardAppeals() Appeals { return Appeals{Days: 60, Answer: 40} }

// Faults says what is wrong with what a claim says, in the names of the API.
func (c *Claim) Faults() []fault.Field { return nil }

// Totals sums a claim up.
func (c *Claim) Totals() Totals { return Totals{} }

// The moves. Each gives the claim as it reads afterwards and leaves the one it
// was called on as it was; the error is a refusal of package fault.

// Edited takes what new says of the failure, the work and the costs: in a draft,
// or while something is asked.
func (c Claim) Edited(new Claim) (Claim, error) { return c, nil }

// Submit hands a draft in, or answers what was asked.
func (c Claim) Submit(m Move, cover *Cover) (Claim, error) { return c, nil }

// Ask asks who claims for something that is missing.
func (c Claim) Ask(m Move) (Claim, error) { return c, nil }

// Authorise lets work begin before the decision, up to a limit.
func (c Claim) Authorise(m Move, limit int64) (Claim, error) { return c, nil }

// Decide decides a claim, or an appeal.
func (c Claim) Decide(m Move, d Decision, a Appeals) (Claim, error) { return c, nil }

// Appeal asks to look again; cover is what is found now, nil to keep what was.
func (c Claim) Appeal(m Move, cover *Cover) (Claim, error) { return c, nil }

// Recover records what a supplier does.
func (c Claim) Recover(m Move, r Recovery) (Claim, error) { return c, nil }

// Close says that the claim is done with.
func (c Claim) Close(m Move) (Claim, error) { return c, nil }

// Withdraw takes a claim back that is not decided, or an appeal.
func (c Claim) Withdraw(m Move) (Claim, error) { return c, nil }

// AnswerBy is the day by which an appeal is to be answered; zero when none is
// open.
func (c *Claim) AnswerBy(a Appeals) vehicle.Date { return vehicle.Date{} }

// SumBy is what claims are summed by. Its numbers are those of the API's
// enumeration.
type SumBy uint8

// What they are summed by.
const (
	NoSumBy SumBy = iota
	ByVehicle
	ByPosition
	ByPart     // that failed
	ByLot      // that failed
	BySupplier // that was asked back
	ByQuarter  // of the failure
	sumsEnd
)

// Sum is the sum of the claims with one key in one currency.
type Sum struct {
	Key      string
	Currency string
	Claims   int
	Accepted int
	Totals   Totals
}

// Sums sums claims whose failure lies from one day to another, both inclusive
// and zero for no bound. Drafts and what was withdrawn do not count.
func Sums(claims []Claim, by SumBy, from, to vehicle.Date) []Sum { return nil }

// Document is the warranty of one vehicle on paper.
type Document struct {
	On       vehicle.Date
	Sections []Section
	Sample   bool // it rests on a term that nobody has signed
}

// Section is a part of the document.
type Section struct {
	Title      string
	Paragraphs []string
}

// Contact is where a customer turns to.
type Contact struct {
	Name, Address, Telephone, Email string
}

// Write writes the warranty of a vehicle for its owner.
func Write(q *Question, works Contact) Document { return Document{} }
