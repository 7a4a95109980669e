package vehicle

import (
	"math"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/wording"
)

// Distance is a length of road in millimetres. Millimetres hold both the mile
// and the kilometre exactly, and an int64 of them more than any vehicle drives.
type Distance int64

// The units in millimetres. The mile is the international mile (NIST SP 811,
// Appendix B), not the US survey mile.
const (
	Metre     Distance = 1_000
	Kilometre Distance = 1_000_000
	Mile      Distance = 1_609_344
)

// Unit is the unit in which an odometer counts and a person reads: Miles or
// Kilometres. The zero value is no unit.
type Unit string

// The units.
const (
	Miles      Unit = "mi"
	Kilometres Unit = "km"
)

// ParseUnit reads the usual names of the two units in any case: "mi", "mile",
// "miles", "km", "kms", "kilometre", "kilometres" and the spelling with -er.
// "m" is refused, for it may mean either mile or metre. The error is a
// *fault.Error of kind Invalid with the reason UNIT.
func ParseUnit(text string) (Unit, error) {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "mi", "mile", "miles":
		return Miles, nil
	case "km", "kms", "kilometre", "kilometres", "kilometer", "kilometers":
		return Kilometres, nil
	}
	return "", &fault.Error{
		Kind: fault.Invalid, Reason: "UNIT", Message: "not a unit of distance",
		Fields: []fault.Field{{Name: "unit", Got: text, Want: "mi or km"}},
	}
}

// Valid says whether u is one of the units.
func (u Unit) Valid() bool { return u == Miles || u == Kilometres }

// Distance is the length of one unit; 0 for no unit.
func (u Unit) Distance() Distance {
	switch u {
	case Miles:
		return Mile
	case Kilometres:
		return Kilometre
	}
	return 0
}

// In gives d in the unit, for calculation and charts; NaN for no unit. What is
// stored stays in millimetres.
func (d Distance) In(u Unit) float64 {
	if !u.Valid() {
		return math.NaN()
	}
	return float64(d) / float64(u.Distance())
}

// Whole gives d in whole units, rounded to the nearest and halves away from
// zero; 0 for no unit.
func (d Distance) Whole(u Unit) int64 {
	unit := u.Distance()
	if unit == 0 {
		return 0
	}
	whole, rest := d/unit, d%unit
	switch {
	case rest >= unit-rest:
		whole++
	case -rest >= unit+rest:
		whole--
	}
	return int64(whole)
}

// Text gives d for a person in whole units: "1,230 miles", "1 mile", "640 km".
// With no unit it is in metres, so that it is never wrong.
func (d Distance) Text(u Unit) string {
	switch n := d.Whole(u); {
	case u == Miles && (n == 1 || n == -1):
		return wording.Number(n) + " mile"
	case u == Miles:
		return wording.Number(n) + " miles"
	case u == Kilometres:
		return wording.Number(n) + " km"
	}
	return wording.Number(int64(d/Metre)) + " m"
}
