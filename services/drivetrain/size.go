package drivetrain

import (
	"regexp"
	"strconv"
	"strings"
)

// normalSize brings a size as people write it to one form: capitals, no
// spaces, dashes plain, and without what does not touch the diameter: the
// service marks LT, P and C, the ply rating, and Z in ZR.
// What is far too long for a size becomes "".
func normalSize(size string) string {
	const longest = 64
	if len(size) > longest {
		return ""
	}
	s := strings.ToUpper(strings.Join(strings.Fields(size), ""))
	s = strings.NewReplacer("\u2010", "-", "\u2011", "-", "\u2012", "-", "\u2013", "-", "\u2212", "-",
		"\u00d7", "X", "ZR", "R").Replace(s)
	s = strings.TrimPrefix(s, "LT")
	s = strings.TrimPrefix(s, "P")
	if m := serviceMark.FindStringSubmatch(s); m != nil {
		s = m[1]
	}
	return s
}

// serviceMark takes "LT", "C" and a ply rating such as "8PR" or "6PLY" off the
// end of a size.
var serviceMark = regexp.MustCompile(`^(.*[R-]\d{2}(?:\.5)?)(?:LT|C)?(?:\d{1,2}(?:PR|PLY))?$`)

// normalPattern brings the name of a pattern to one form: lower case, words
// joined by hyphens.
func normalPattern(pattern string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(pattern), func(r rune) bool {
		return r == ' ' || r == '-' || r == '_'
	}), "-")
}

// geometry is what a size tells about a tyre.
type geometry struct {
	rimMillimetres  float64
	wallMillimetres float64 // height of one wall
	radial          bool
}

const millimetresPerInch = 25.4

// The forms of size that tell the height of the tyre.
var (
	metricSize    = regexp.MustCompile(`^(\d{3})(?:/(\d{2,3}))?([RDB-])(\d{2}(?:\.5)?)$`)
	flotationSize = regexp.MustCompile(`^(\d{2}(?:\.\d{1,2})?)X\d{1,2}(?:\.\d{1,2})?([RDB-])(\d{2}(?:\.5)?)$`)
)

// fullAspect is the height of the wall in percent of the width where the size
// does not say ("205R16"). Trade convention is 80 to 82; 80 comes closest to
// the usual table value of 205R16.
const fullAspect = 80

// parseGeometry reads a size in the form of normalSize. It reports false for a
// size that does not tell the height of the tyre, and for rims and heights
// that no road tyre has.
func parseGeometry(size string) (geometry, bool) {
	var g geometry
	if m := metricSize.FindStringSubmatch(size); m != nil {
		aspect := float64(fullAspect)
		if m[2] != "" {
			aspect = number(m[2])
		}
		g = geometry{number(m[4]) * millimetresPerInch, number(m[1]) * aspect / 100, m[3] == "R"}
	} else if m := flotationSize.FindStringSubmatch(size); m != nil {
		rim := number(m[3]) * millimetresPerInch
		g = geometry{rim, (number(m[1])*millimetresPerInch - rim) / 2, m[2] == "R"}
	}
	return g, g.rimMillimetres >= 10*millimetresPerInch && g.rimMillimetres <= 26*millimetresPerInch &&
		g.wallMillimetres >= 40 && g.wallMillimetres <= 400
}

// number reads what the patterns above matched.
func number(digits string) float64 {
	f, _ := strconv.ParseFloat(digits, 64)
	return f
}

func (g geometry) outsideDiameter() float64 { return g.rimMillimetres + 2*g.wallMillimetres }

// rollingFactor is rolling circumference over outside diameter: 3.05 for
// radials (14 published rows lie between 3.046 and 3.062), 2.99 for cross-ply
// tyres (from memory), and not pi.
func (g geometry) rollingFactor() float64 {
	if g.radial {
		return 3.05
	}
	return 2.99
}
