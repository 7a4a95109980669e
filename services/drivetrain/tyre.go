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
}

// String is size and pattern for print.
func (t Tyre) String() string { return strings.TrimSpace(t.Size + " " + t.Pattern) }

// Circumference is the rolling circumference: the way that a loaded tyre
// covers in one turn. It is shorter than pi times the diameter.
type Circumference struct {
	Millimetres float64
	Source      string // where the value is from, for print
	Estimated   bool   // not a published value of this size: calculated, or from memory
}

// RollingCircumference gives the rolling circumference of a tyre when new:
// from the table by size and pattern, else from the table by size alone, else
// calculated from the size and flagged Estimated. Wear takes off up to 2 %.
//
// A size that can be neither looked up nor calculated (a numeric inch size
// such as "6.00-16" does not tell the height of its wall) is refused with a
// *fault.Error of kind Invalid and the reason TYRE_SIZE.
func RollingCircumference(t Tyre) (Circumference, error) {
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
	}, nil
}

// OutsideDiameter calculates the diameter of a new, unloaded tyre from its
// size, in millimetres (25.4 d + 2 W A/100 for "W/A R d"). It refuses as
// RollingCircumference does, and does not look into the table.
func OutsideDiameter(size string) (millimetres float64, err error) {
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

// tableRow is what is known of one size, or of one pattern of it.
type tableRow struct {
	size        string // as normalSize gives it
	pattern     string // as normalPattern gives it; "" for any
	millimetres float64
	source      string
	fromMemory  bool
}

// circumference is the row's answer for a tyre of that pattern; the answer
// says so when it was measured on another pattern.
func (r tableRow) circumference(pattern string) Circumference {
	source := r.source
	if r.pattern != "" && r.pattern != pattern {
		source += "; measured on another pattern (" + r.pattern + "), which may differ by a percent"
	}
	return Circumference{Millimetres: r.millimetres, Source: source, Estimated: r.fromMemory}
}

// publishedTurns is what the table's published rows are taken from; it gives
// turns per mile, from which the circumference is 1,609,344 mm / turns.
const publishedTurns = "a tyre maker's published turns per mile"

const fromMemory = "from memory, to be measured"

// table holds the sizes such vehicles wear. The published rows are those of a
// tyre maker's "Sizes and specifications" sheet for a mud-terrain tyre. The
// others are from memory: the usual outside diameter times the rolling factor
// of the construction.
var table = []tableRow{
	{"235/85R16", "mud-terrain", millimetresPerMile / 648, publishedTurns, false},
	{"245/75R16", "mud-terrain", millimetresPerMile / 674, publishedTurns, false},
	{"265/75R16", "mud-terrain", millimetresPerMile / 651, publishedTurns, false},
	{"285/75R16", "mud-terrain", millimetresPerMile / 628, publishedTurns, false},
	{"255/85R16", "mud-terrain", millimetresPerMile / 620, publishedTurns, false},
	{"315/75R16", "mud-terrain", millimetresPerMile / 595, publishedTurns, false},
	{"235/85R16", "", 2458, fromMemory, true}, // 806 mm x 3.05
	{"205R16", "", 2245, fromMemory, true},    // 736 mm x 3.05
	{"7.50-16", "", 2407, fromMemory, true},   // 805 mm x 2.99
	{"7.50R16", "", 2455, fromMemory, true},   // 805 mm x 3.05
	{"6.50-16", "", 2243, fromMemory, true},   // 750 mm x 2.99
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
