package drivetrain

import (
	"fmt"
	"strings"

	"halfshaft/services/fault"
)

// Tyre is a tyre as fitted. Two patterns of one size differ by about a percent
// in how far they roll, so the pattern is part of it.
type Tyre struct {
	Size    string // as on the sidewall: "7.50-16", "235/85R16", "LT235/85R16"
	Pattern string // "mud-terrain"; empty when it is not known

	// Measured is the rolling circumference in millimetres, where somebody
	// measured it; 0 to look it up. It goes before every table.
	Measured int
}

// What a measured circumference can be, in millimetres.
const (
	LeastCircumference = 1500
	MostCircumference  = 4000
)

// String is size and pattern for print.
func (t Tyre) String() string { return strings.TrimSpace(t.Size + " " + t.Pattern) }

// Circumference is the rolling circumference: the way that a loaded tyre
// covers in one turn. It is shorter than pi times the diameter.
type Circumference struct {
	Millimetres float64
	Source      string  // where the value is from, for print
	Estimated   bool    // not a published value of this size: calculated, or from memory
	Tolerance   float64 // how far it may be off either way, as a fraction: 0.01; 0 for a published value of this very tyre
}

// Diameter is the outside diameter of a new tyre, inflated and not loaded.
type Diameter struct {
	Millimetres float64
	Source      string // where the value is from, for print
	Estimated   bool   // not a published value of this size: calculated, or from memory
}

// How far a circumference may be off where it is not published for this very
// tyre. Two patterns of one size differ by a percent (common practice, no
// source). A circumference calculated from the size is off by up to 1.1 % from
// those published (the rows of the table); one from memory, by more.
const (
	otherPattern = 0.01
	calculated   = 0.015
	remembered   = 0.02
)

// RollingCircumference gives the rolling circumference of a tyre when new:
// as measured, else from the table by size and pattern, else from the table by
// size alone, else calculated from the size and flagged Estimated. Wear takes off
// up to 2 %.
//
// A size that can be neither looked up nor calculated (a numeric inch size
// such as "6.00-16" does not tell the height of its wall) is refused with a
// *fault.Error of kind Invalid and the reason TYRE_SIZE.
func RollingCircumference(t Tyre) (Circumference, error) {
	if t.Measured != 0 {
		return Circumference{Millimetres: float64(t.Measured), Source: "measured on the vehicle"}, nil
	}
	size, pattern := normalSize(t.Size), normalPattern(t.Pattern)
	if row, ok := lookUp(size, pattern); ok {
		return row.circumference(pattern), nil
	}
	g, ok := parseGeometry(size)
	if !ok {
		return Circumference{}, sizeError(t.Size)
	}
	return Circumference{
		Millimetres: g.outsideDiameter() * g.rollingFactor(),
		Source:      fmt.Sprintf("calculated from the size: %.2f x the outside diameter", g.rollingFactor()),
		Estimated:   true,
		Tolerance:   calculated,
	}, nil
}

// OutsideDiameter gives the outside diameter of a tyre, looked up and else
// calculated as RollingCircumference is, and refused as there.
func OutsideDiameter(t Tyre) (Diameter, error) {
	size, pattern := normalSize(t.Size), normalPattern(t.Pattern)
	if row, ok := lookUp(size, pattern); ok {
		return Diameter{row.across, row.sourceFor(pattern), row.fromMemory()}, nil
	}
	nominal, err := NominalDiameter(t.Size)
	if err != nil {
		return Diameter{}, err
	}
	return Diameter{nominal, "calculated from the size", true}, nil
}

// NominalDiameter calculates the diameter in millimetres that a size tells by
// itself, 25.4 d + 2 W A/100 for "W/A R d", whatever the table says. It refuses
// as RollingCircumference does, and every numeric inch size.
func NominalDiameter(size string) (millimetres float64, err error) {
	g, ok := parseGeometry(normalSize(size))
	if !ok {
		return 0, sizeError(size)
	}
	return g.outsideDiameter(), nil
}

// lookUp finds the row of a size and pattern, else the row of that size for
// any pattern, else the first of that size.
func lookUp(size, pattern string) (row tableRow, ok bool) {
	for _, r := range table {
		switch {
		case r.size != size:
		case r.pattern == pattern:
			return r, true
		case !ok, r.pattern == "":
			row, ok = r, true
		}
	}
	return row, ok
}

func sizeError(size string) error {
	return &fault.Error{
		Kind: fault.Invalid, Reason: "TYRE_SIZE", Message: "the rolling circumference of this tyre is not known",
		Fields: []fault.Field{{
			Name: "tyre.size", Got: size,
			Want: "a size in the table (7.50-16, 6.50-16, 205R16) or one that tells its height, as in 235/85R16 or 31x10.50R15",
		}},
	}
}
