package disclosure

import (
	"halfshaft/services/vehicle"
)

// Vehicle is what is on record about the odometer of a vehicle.
type Vehicle struct {
	Serial       vehicle.Serial
	FrameNumber  string
	DonorYear    int // 0 when it is not on record
	BuildDate    vehicle.Date
	DeliveryDate vehicle.Date
	Delivered    vehicle.Entered // what the dial showed at delivery
	Dial         vehicle.Dial    // as delivered

	Replacements []Replacement // in order of days
	Last         Look          // the last that counts in the distance ledger; zero for none
	Waiting      []Look        // those that wait for somebody's decision
}

// Look is one look at the odometer.
type Look struct {
	On     vehicle.Date
	Shown  vehicle.Entered  // after a correction
	True   vehicle.Distance // the true distance since delivery, where the look counts
	Record string           // resource name
}

// Replacement is a day on which another odometer was fitted, or the one there
// was set anew.
type Replacement struct {
	On     vehicle.Date
	Before vehicle.Entered // what the old one showed; zero when nobody wrote it down
	After  vehicle.Entered // what the new one showed when fitted; zero when nobody wrote it down
	Dial   vehicle.Dial    // from that day on
	Why    string
	By     string
	Record string
}

// Preserved reports whether the mileage was carried over: the new odometer
// showed what the old one had, to the whole unit. What nobody wrote down was not
// carried over.
func (r Replacement) Preserved() bool {
	if r.Before.IsZero() || r.After.IsZero() {
		return false
	}
	before, errBefore := r.Before.Distance()
	after, errAfter := r.After.Distance()
	if errBefore != nil || errAfter != nil {
		return false
	}
	least := max(r.Before.Unit.Distance(), r.After.Unit.Distance())
	return before-after < least && after-before < least
}

// SetToZero reports whether the new odometer showed nothing but zeros.
func (r Replacement) SetToZero() bool { return !r.After.IsZero() && r.After.Value.Sign() == 0 }

// replacedBy gives the replacements up to a day.
func (v *Vehicle) replacedBy(on vehicle.Date) []Replacement {
	var some []Replacement
	for _, r := range v.Replacements {
		if !r.On.After(on) {
			some = append(some, r)
		}
	}
	return some
}

// dialOn is the odometer on a day.
func (v *Vehicle) dialOn(on vehicle.Date) vehicle.Dial {
	dial := v.Dial
	for _, r := range v.replacedBy(on) {
		dial = r.Dial
	}
	return dial
}
