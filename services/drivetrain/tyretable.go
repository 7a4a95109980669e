package drivetrain

// tableRow is what is known of one size, or of one pattern of it.
type tableRow struct {
	size    string  // as normalSize gives it
	pattern string  // as normalPattern gives it; "" for any
	across  float64 // outside diameter in millimetres
	rolls   float64 // rolling circumference in millimetres
	source  string
}

// The sources of the table. The published rows are those of a tyre maker's
// "Sizes and specifications" sheet for a mud-terrain tyre, which gives the
// outside diameter in tenths of an inch and the turns per mile.
const (
	publishedTurns = "a tyre maker's published turns per mile"
	fromMemory     = "from memory, to be measured"
)

// table holds the sizes that such vehicles wear. Patterns have no makers'
// names: "mud-terrain", "all-terrain", "road", "bar". What is from memory is
// the usual outside diameter and 3.05 times it for a radial, 2.99 times it for
// a cross-ply tyre. A works that measures its own tyres puts a row here.
var table = []tableRow{
	{"235/85R16", "mud-terrain", 32.0 * millimetresPerInch, millimetresPerMile / 648, publishedTurns},
	{"245/75R16", "mud-terrain", 30.7 * millimetresPerInch, millimetresPerMile / 674, publishedTurns},
	{"265/75R16", "mud-terrain", 31.8 * millimetresPerInch, millimetresPerMile / 651, publishedTurns},
	{"285/75R16", "mud-terrain", 33.0 * millimetresPerInch, millimetresPerMile / 628, publishedTurns},
	{"255/85R16", "mud-terrain", 33.5 * millimetresPerInch, millimetresPerMile / 620, publishedTurns},
	{"315/75R16", "mud-terrain", 34.9 * millimetresPerInch, millimetresPerMile / 595, publishedTurns},
	{"235/85R16", "", 806, 2458, fromMemory},
	{"205R16", "", 736, 2245, fromMemory},
	{"7.50-16", "", 805, 2407, fromMemory},
	{"7.50R16", "", 805, 2455, fromMemory},
	{"6.50-16", "", 750, 2243, fromMemory},
}

// fromMemory says whether nobody published the row.
func (r tableRow) fromMemory() bool { return r.source == fromMemory }

// sourceFor is the source of the row as an answer for a tyre of that pattern;
// it says so when the row is of another pattern.
func (r tableRow) sourceFor(pattern string) string {
	if r.ofAnother(pattern) {
		return r.source + "; measured on another pattern (" + r.pattern + "), which may differ by a percent"
	}
	return r.source
}

func (r tableRow) ofAnother(pattern string) bool { return r.pattern != "" && r.pattern != pattern }

// circumference is the row's answer for a tyre of that pattern.
func (r tableRow) circumference(pattern string) Circumference {
	c := Circumference{Millimetres: r.rolls, Source: r.sourceFor(pattern), Estimated: r.fromMemory()}
	switch {
	case r.fromMemory():
		c.Tolerance = remembered
	case r.ofAnother(pattern):
		c.Tolerance = otherPattern
	}
	return c
}
