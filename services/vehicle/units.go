package vehicle

import (
	"math/big"
	"strings"
	"unicode"
	"unicode/utf8"
)

// unit is one unit of measurement: its value in the base unit of its kind is
// factor times the number plus offset, both exact.
type unit struct {
	name   string // as we write it
	kind   string // only units of one kind convert into each other
	factor *big.Rat
	offset *big.Rat // nil for 0: only temperatures have one
}

// The factors are those of NIST SP 811 (2008), Appendix B, and exact: where B.8
// prints a rounded one (lbf, psi, lbf·ft), it is the product of the exact
// definitions that B.8 rests on: 1 in = 25.4 mm, 1 lb = 0.45359237 kg,
// g = 9.80665 m/s².
var (
	poundForce = product("0.45359237", "9.80665") // in newtons
	squareInch = product("0.0254", "0.0254")      // in square metres

	unitSpelling, unitFolded = spellings()
)

// spellings builds the table: every way of writing a unit, normalised, to the
// unit; and the same in small letters. The first spelling of each row is ours.
// A bare pound or kilogram is a mass and never a force, and a bare pint or
// gallon is neither of the two.
func spellings() (all, folded map[string]*unit) {
	all, folded = map[string]*unit{}, map[string]*unit{}
	add := func(kind string, factor, offset *big.Rat, names ...string) {
		u := &unit{names[0], kind, factor, offset}
		for _, n := range names {
			all[normalUnit(n)] = u
			if !strings.HasPrefix(n, "m") && !strings.HasPrefix(n, "M") || u.kind == "length" {
				folded[strings.ToLower(normalUnit(n))] = u // a small m and a large one are a thousand million apart
			}
		}
	}
	// length, in millimetres
	add("length", ratio("1"), nil, "mm", "millimetre", "millimetres", "millimeter", "millimeters")
	add("length", ratio("0.001"), nil, "µm", "μm", "um", "micron", "microns")
	add("length", ratio("10"), nil, "cm")
	add("length", ratio("1000"), nil, "m")
	add("length", ratio("0.0254"), nil, "thou", "mil", "mils")
	add("length", ratio("25.4"), nil, "in", "inch", "inches", `"`)
	add("length", ratio("304.8"), nil, "ft", "foot", "feet")
	// force, in newtons
	add("force", ratio("1"), nil, "N", "newton", "newtons")
	add("force", ratio("1000"), nil, "kN")
	add("force", ratio("9.80665"), nil, "kgf", "kp")
	add("force", poundForce, nil, "lbf")
	// torque, in newton metres
	add("torque", ratio("1"), nil, "N·m", "Nm", "N m", "N-m")
	add("torque", ratio("9.80665"), nil, "kgf·m", "kgfm", "kgf m", "kgf-m", "kgm", "kg·m")
	add("torque", ratio("0.0980665"), nil, "kgf·cm", "kgfcm", "kgf cm", "kgcm", "kg·cm")
	add("torque", times(poundForce, "0.3048"), nil, "lbf·ft", "lbf ft", "lbf-ft", "ft·lbf", "ft lbf", "ft-lbf",
		"lb·ft", "lb ft", "lb-ft", "ft·lb", "ft lb", "ft-lb", "ftlb", "lbft")
	add("torque", times(poundForce, "0.0254"), nil, "lbf·in", "lbf in", "lbf-in", "in·lbf", "in lbf", "in-lbf",
		"lb·in", "lb in", "lb-in", "in·lb", "in lb", "in-lb")
	// pressure, in pascals
	add("pressure", ratio("1"), nil, "Pa")
	add("pressure", ratio("1000"), nil, "kPa")
	add("pressure", ratio("1000000"), nil, "MPa")
	add("pressure", ratio("100000"), nil, "bar")
	add("pressure", ratio("100"), nil, "mbar")
	add("pressure", new(big.Rat).Quo(poundForce, squareInch), nil, "psi", "lbf/in²", "lbf/in^2", "lb/in²")
	add("pressure", ratio("98066.5"), nil, "kgf/cm²", "kgf/cm^2", "kg/cm²")
	// volume, in litres
	add("volume", ratio("1"), nil, "l", "litre", "litres", "liter", "liters")
	add("volume", ratio("0.001"), nil, "ml", "cc", "cm³", "cm^3")
	add("volume", ratio("0.56826125"), nil, "imp pt", "imperial pint", "imperial pints")
	add("volume", ratio("4.54609"), nil, "imp gal", "imperial gallon", "imperial gallons")
	add("volume", ratio("0.473176473"), nil, "US pt", "US pint", "US pints")
	add("volume", ratio("0.946352946"), nil, "US qt", "US quart", "US quarts")
	add("volume", ratio("3.785411784"), nil, "US gal", "US gallon", "US gallons")
	// mass, in grams
	add("mass", ratio("1"), nil, "g", "gram", "grams")
	add("mass", ratio("1000"), nil, "kg", "kilogram", "kilograms")
	add("mass", ratio("453.59237"), nil, "lb", "lbs", "pound", "pounds")
	add("mass", product("453.59237", "0.0625"), nil, "oz", "ounce", "ounces")
	// temperature, in degrees Celsius
	add("temperature", ratio("1"), nil, "°C", "deg C", "degC")
	add("temperature", ratio("1"), ratio("-273.15"), "K")
	add("temperature", big.NewRat(5, 9), big.NewRat(-160, 9), "°F", "deg F", "degF")
	// what has one unit, or decimal ones
	add("angle", ratio("1"), nil, "deg", "°", "degree", "degrees")
	add("rotation", ratio("1"), nil, "rev/min", "rpm", "r/min")
	add("voltage", ratio("1"), nil, "V", "volt", "volts")
	add("voltage", ratio("0.001"), nil, "mV")
	add("ratio", ratio("1"), nil, "%", "per cent", "percent")
	return all, folded
}

func ratio(text string) *big.Rat {
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		panic("vehicle: not a factor: " + text)
	}
	return r
}

func product(factors ...string) *big.Rat {
	p := big.NewRat(1, 1)
	for _, f := range factors {
		p.Mul(p, ratio(f))
	}
	return p
}

func times(r *big.Rat, factor string) *big.Rat { return new(big.Rat).Mul(r, ratio(factor)) }

// normalUnit brings the ways of writing a product to one: "N.m" and "N ⋅ m" are
// "N·m". Capitals stay, for mN is not MN.
func normalUnit(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	for _, dot := range []string{"⋅", "•", "*", "."} {
		text = strings.ReplaceAll(text, dot, "·")
	}
	return strings.ReplaceAll(strings.ReplaceAll(text, " ·", "·"), "· ", "·")
}

// unitOf finds a unit; nil for one that is not in the table. What is written in
// capitals, or with one in front, is understood where that leaves no doubt: MM,
// Psi.
func unitOf(text string) *unit {
	if u := unitSpelling[text]; u != nil { // as nearly all are written
		return u
	}
	text = normalUnit(text)
	if u := unitSpelling[text]; u != nil {
		return u
	}
	first, size := utf8.DecodeRuneInString(text)
	rest := text[size:]
	if rest != "" && unicode.IsUpper(first) && (rest == strings.ToUpper(rest) || rest == strings.ToLower(rest)) {
		return unitFolded[strings.ToLower(text)]
	}
	return nil
}

// UnitName gives our way of writing a unit of measurement: "lbf·ft" for "ft
// lb". It reports false for one that is not in the table, which converts into
// nothing but itself.
func UnitName(text string) (string, bool) {
	if u := unitOf(text); u != nil {
		return u.name, true
	}
	return strings.TrimSpace(text), false
}

// Convertible says whether values in one unit can be told in the other.
func Convertible(from, to string) bool {
	if from == to {
		return true
	}
	a, b := unitOf(from), unitOf(to)
	if a == nil || b == nil {
		return normalUnit(from) == normalUnit(to)
	}
	return a.kind == b.kind
}

// In gives the value of q in another unit, exactly: 0.18 mm is 7 11/127 thou.
// It reports false when the two measure different things, or one of them is not
// known; a unit that is not known is itself in itself.
func (q Quantity) In(unit string) (value *big.Rat, ok bool) {
	return q.convert(q.Value, unit, true)
}

// StepIn gives the resolution of q, the step of its last digit, in another unit;
// as In otherwise. A step has no zero point: 1 °F is 5/9 of a °C.
func (q Quantity) StepIn(unit string) (step *big.Rat, ok bool) {
	return q.convert(q.Value.Resolution(), unit, false)
}

func (q Quantity) convert(d Decimal, unit string, pointed bool) (*big.Rat, bool) {
	value := d.Rat()
	if q.Unit == unit {
		return value, true
	}
	from, to := unitOf(q.Unit), unitOf(unit)
	if from == nil || to == nil {
		return value, normalUnit(q.Unit) == normalUnit(unit)
	}
	if from.kind != to.kind {
		return nil, false
	}
	value.Mul(value, from.factor)
	if pointed && from.offset != nil {
		value.Add(value, from.offset)
	}
	if pointed && to.offset != nil {
		value.Sub(value, to.offset)
	}
	return value.Quo(value, to.factor), true
}

// Rat is d as an exact fraction.
func (d Decimal) Rat() *big.Rat {
	scale := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(d.Scale)), nil)
	return new(big.Rat).SetFrac(big.NewInt(d.Coefficient), scale)
}

// Also writes q and, in brackets, what it is in another unit, to as many digits
// as its own resolution bears: "40 N·m (30 lbf·ft)", "0.18 mm (7.1 thou)". A
// unit that q cannot be told in, or that is its own, leaves it as it is.
func (q Quantity) Also(unit string) string {
	value, ok := q.In(unit)
	name, _ := UnitName(unit)
	if own, _ := UnitName(q.Unit); !ok || own == name {
		return q.String()
	}
	step, _ := q.StepIn(unit)
	return q.String() + " (" + roundedTo(value, step) + " " + name + ")"
}

// roundedTo writes a value to the greatest power of ten, at most 1000, that is
// not more than the step times the root of two: rounding then adds less to its
// uncertainty than there was. Halves go away from zero.
func roundedTo(value, step *big.Rat) string {
	most := new(big.Rat).Mul(step, halfPower)
	for power, ten := range tens {
		if ten.Cmp(most) <= 0 {
			if power -= mostPower; power >= 0 {
				return value.FloatString(power)
			}
			whole := new(big.Rat).Quo(value, ten).FloatString(0)
			if whole == "0" || whole == "-0" {
				return "0"
			}
			return whole + strings.Repeat("0", -power)
		}
	}
	return value.FloatString(MaxScale)
}

// What roundedTo goes by: the root of two, and the powers of ten from 1000 down
// to one more than that of the last digit that a decimal has.
const mostPower = 3

var (
	halfPower = ratio("1.414")
	tens      = powersOfTen(mostPower, mostPower+MaxScale)
)

// powersOfTen gives n of them, from 10 to the first downwards.
func powersOfTen(first, n int) []*big.Rat {
	next := new(big.Rat).SetFrac(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(first)), nil), big.NewInt(1))
	var all []*big.Rat
	for range n {
		all = append(all, next)
		next = new(big.Rat).Quo(next, big.NewRat(10, 1))
	}
	return all
}

// CustomaryUnit gives the unit in which people of the other habit, metric or
// not, would read one: "thou" for "mm", "N·m" for "lbf·ft". Volumes have none,
// for a pint is two different things.
func CustomaryUnit(unit string) (string, bool) {
	u := unitOf(unit)
	if u == nil {
		return "", false
	}
	other, ok := customary[u.name]
	return other, ok
}

var customary = map[string]string{
	"mm": "thou", "thou": "mm", "in": "mm", "N·m": "lbf·ft", "lbf·ft": "N·m", "lbf·in": "N·m", "kgf·m": "lbf·ft",
	"kPa": "psi", "bar": "psi", "psi": "kPa", "kgf": "lbf", "N": "lbf", "lbf": "N", "°C": "°F", "°F": "°C",
}

// Figures gives the number of q in another unit, to as many digits as Also
// writes; false when q cannot be told in it.
func (q Quantity) Figures(unit string) (string, bool) {
	value, ok := q.In(unit)
	if !ok {
		return "", false
	}
	step, _ := q.StepIn(unit)
	return roundedTo(value, step), true
}
