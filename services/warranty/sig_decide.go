package warranty

import (
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
)

// Decide says whether a position is covered on a day, by which terms, until
// when, and why. See the package comment for what is decided at the boundaries.
func Decide(q *Question) *Cover { return &Cover{} }

// DecideRecovery asks the terms of one supplier alone, for asking back what the
// works paid: the same decision as for a customer.
func DecideRecovery(q *Question, supplier string) *Cover { return &Cover{} }

// Faults says what is wrong with a version by itself, in the names of the API.
func (t *Term) Faults() []fault.Field { return nil }

// Admit decides whether a version may stand beside those there are: nil, or a
// refusal. Versions count up by one, and none begins before the one before it.
func Admit(beside []Term, t Term) error { return nil }

// Faults says what is wrong with a time out of service.
func (s Span) Faults() []fault.Field { return nil }

// DaysAt gives the day of a moment in the works' zone and in the owner's.
func DaysAt(t time.Time, works, owners *time.Location) (atWorks, atOwners vehicle.Date) {
	return
}

// Merge gives the spans that count without overlaps, in order; one that lasts
// ends on the day until.
func Merge(spans []Span, until vehicle.Date) []Span { return nil }

// OwnerChanges gives, from the ties of a vehicle, the days on which it came to
// somebody else after its delivery; unknown when nobody recorded an owner.
func OwnerChanges(ties []owner.Tie, delivered vehicle.Date) (changes []vehicle.Date, unknown bool) {
	return nil, false
}
