package shims

import (
	"math/big"
	"strings"

	"halfshaft/services/vehicle"
)

// unit is one that a quantity of a problem may have.
type unit struct {
	dimension dimension
	per       *big.Rat // how many mm, N or N·m it is, exactly
	digits    uint8    // after the point, of a number that has no end in this unit
}

type dimension int

const (
	length dimension = iota
	force
	torque
)

// units holds the units without their separators: N·m is "Nm". The inch is
// 25.4 mm, the pound 0.45359237 kg and standard gravity 9.80665 m/s², all
// exactly: NIST SP 811 appendix B. A "mil" is left out, for in some workshops it
// is a millimetre.
var units = map[string]unit{
	"mm":    {length, number("1"), 4},
	"cm":    {length, number("10"), 5},
	"µm":    {length, number("0.001"), 1}, // the micro sign
	"μm":    {length, number("0.001"), 1}, // the Greek letter
	"um":    {length, number("0.001"), 1},
	"in":    {length, number("25.4"), 6},
	"inch":  {length, number("25.4"), 6},
	`"`:     {length, number("25.4"), 6},
	"thou":  {length, number("0.0254"), 3},
	"N":     {force, number("1"), 3},
	"kgf":   {force, number("9.80665"), 3},
	"lbf":   {force, number("4.4482216152605"), 3},
	"Nm":    {torque, number("1"), 3},
	"Ncm":   {torque, number("0.01"), 3},
	"kgfm":  {torque, number("9.80665"), 3},
	"kgfcm": {torque, number("0.0980665"), 3},
	"lbfft": {torque, number("1.3558179483314004"), 3}, // lbf x 0.3048 m
	"lbfin": {torque, number("0.1129848290276167"), 3}, // lbf x 0.0254 m
}

const (
	wantLength = "a length in mm, cm, µm, in or thou, as in 0.10 mm"
	wantSlope  = "a load for each unit of length, as in 12 kgf/mm"
)

// number reads a decimal of the table above.
func number(text string) *big.Rat {
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		panic("shims: not a number: " + text)
	}
	return r
}

// separators are what may stand between the two parts of a unit of torque.
var separators = strings.NewReplacer("·", "", "⋅", "", "*", "", ".", "", "-", "", " ", "")

func unitOf(text string) (unit, bool) {
	u, ok := units[separators.Replace(text)]
	return u, ok
}

// slopeUnits splits the unit of a slope: "kgf/mm", "kgf per thou".
func slopeUnits(text string) (load, per unit, ok bool) {
	above, below, found := strings.Cut(text, "/")
	if !found {
		above, below, found = strings.Cut(text, " per ")
	}
	load, known := unitOf(above)
	per, knownPer := unitOf(below)
	return load, per, found && known && knownPer && load.dimension != length && per.dimension == length
}

// fraction is the number as written, in whatever unit.
func fraction(d vehicle.Decimal) *big.Rat {
	denominator := int64(1)
	for range d.Scale {
		denominator *= 10
	}
	return big.NewRat(d.Coefficient, denominator)
}

// isWritten says whether d can be a number that somebody wrote: one that
// vehicle.ParseDecimal would give.
func isWritten(d vehicle.Decimal) bool { return d.Scale <= vehicle.MaxScale }
