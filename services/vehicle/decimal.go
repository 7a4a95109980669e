package vehicle

import (
	"math"
	"math/bits"
	"strconv"
	"strings"

	"halfshaft/services/fault"
)

// Decimal is a number exactly as it was written: Coefficient / 10^Scale. The
// scale is part of the value: 0.10 mm was read from an instrument that shows
// hundredths, 0.1 mm was not. Two decimals that are == were written alike; to
// compare the numbers use Cmp. The zero value is 0.
type Decimal struct {
	Coefficient int64
	Scale       uint8 // digits after the point, 0 to MaxScale
}

// MaxScale is the greatest number of digits after the point.
const MaxScale = 9

// powers holds 10^0 to 10^19, all that fit in 64 bits.
var powers = func() (p [20]uint64) {
	p[0] = 1
	for i := 1; i < len(p); i++ {
		p[i] = p[i-1] * 10
	}
	return p
}()

// ParseDecimal reads a number with a decimal point and up to MaxScale digits
// after it: "12", "0.10", "-0.05", ".018". Spaces around it, a plus sign and
// leading zeros are let pass. A comma is refused, for nobody can tell 1,230
// from 1.230; so are exponents. The error is a *fault.Error of kind Invalid
// with the reason DECIMAL.
func ParseDecimal(text string) (Decimal, error) {
	d, rest, ok := leadingDecimal(strings.TrimSpace(text))
	if !ok || rest != "" {
		return Decimal{}, &fault.Error{
			Kind: fault.Invalid, Reason: "DECIMAL", Message: "not a number",
			Fields: []fault.Field{{
				Name: "value", Got: text,
				Want: "digits with at most one point and 9 digits after it, as in 0.10",
			}},
		}
	}
	return d, nil
}

// leadingDecimal reads the number at the beginning of text and gives the rest.
func leadingDecimal(text string) (d Decimal, rest string, ok bool) {
	rest, negative := signOf(text)
	some, point := false, false
	for rest != "" {
		c := rest[0]
		if c == '.' && !point && len(rest) > 1 && isDigit(rest[1]) {
			point = true
		} else if isDigit(c) {
			digit := int64(c - '0')
			if d.Coefficient > (math.MaxInt64-digit)/10 || point && d.Scale == MaxScale {
				return Decimal{}, rest, false
			}
			d.Coefficient = d.Coefficient*10 + digit
			some = true
			if point {
				d.Scale++
			}
		} else {
			break
		}
		rest = rest[1:]
	}
	if negative {
		d.Coefficient = -d.Coefficient
	}
	return d, rest, some
}

// signOf takes a sign off the beginning of text; the typographic minus counts.
func signOf(text string) (rest string, negative bool) {
	for _, minus := range []string{"-", "\u2212"} {
		if rest, ok := strings.CutPrefix(text, minus); ok {
			return rest, true
		}
	}
	return strings.TrimPrefix(text, "+"), false
}

// String writes d with all digits of its scale: {10, 2} is "0.10".
func (d Decimal) String() string {
	number := strconv.FormatUint(d.magnitude(), 10)
	if scale := int(d.Scale); scale > 0 {
		if missing := scale + 1 - len(number); missing > 0 {
			number = strings.Repeat("0", missing) + number
		}
		point := len(number) - scale
		number = number[:point] + "." + number[point:]
	}
	if d.Coefficient < 0 {
		return "-" + number
	}
	return number
}

// magnitude is the coefficient without its sign.
func (d Decimal) magnitude() uint64 {
	if d.Coefficient < 0 {
		return -uint64(d.Coefficient)
	}
	return uint64(d.Coefficient)
}

// Sign is -1, 0 or +1.
func (d Decimal) Sign() int {
	switch {
	case d.Coefficient < 0:
		return -1
	case d.Coefficient > 0:
		return 1
	}
	return 0
}

// Float64 is the nearest float64, for calculation and charts.
func (d Decimal) Float64() float64 {
	const exact = 1 << 53 // both operands below are exact up to here
	if d.magnitude() <= exact && d.Scale <= MaxScale {
		return float64(d.Coefficient) / float64(powers[d.Scale])
	}
	f, _ := strconv.ParseFloat(d.String(), 64) // what String writes is a number
	return f
}

// Cmp gives -1, 0 or +1 as the number d is less than, equal to or greater than
// other, whatever their scales: 0.1 and 0.10 are equal.
func (d Decimal) Cmp(other Decimal) int {
	a, b := d.Sign(), other.Sign()
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	case a < 0:
		return cmpMagnitude(other, d)
	}
	return cmpMagnitude(d, other)
}

// cmpMagnitude compares two decimals without their signs, in 128 bits.
func cmpMagnitude(a, b Decimal) int {
	scale := max(a.Scale, b.Scale)
	aHigh, aLow := a.scaled(scale)
	bHigh, bLow := b.scaled(scale)
	switch {
	case aHigh < bHigh, aHigh == bHigh && aLow < bLow:
		return -1
	case aHigh > bHigh, aLow > bLow:
		return 1
	}
	return 0
}

// scaled is the magnitude brought to a greater scale. Beyond 10^19, which no
// decimal that was parsed needs, any number but 0 is more than 128 bits hold.
func (d Decimal) scaled(scale uint8) (high, low uint64) {
	by := int(scale - d.Scale)
	if by >= len(powers) {
		if d.Coefficient == 0 {
			return 0, 0
		}
		return math.MaxUint64, math.MaxUint64
	}
	return bits.Mul64(d.magnitude(), powers[by])
}

// Resolution is the smallest step at the scale of d: that of 0.10 is 0.01.
func (d Decimal) Resolution() Decimal { return Decimal{Coefficient: 1, Scale: d.Scale} }

// Times multiplies a distance by d exactly and rounds once, halves away from
// zero: 12345.6 times a Mile is 19,868,317,286 mm. It reports false when the
// product does not fit, or d has more than MaxScale digits after the point.
func (d Decimal) Times(distance Distance) (Distance, bool) {
	if d.Scale > MaxScale {
		return 0, false
	}
	one := Decimal{Coefficient: int64(distance)}
	high, low := bits.Mul64(d.magnitude(), one.magnitude())
	divisor := powers[d.Scale]
	if high >= divisor {
		return 0, false
	}
	quotient, rest := bits.Div64(high, low, divisor)
	up := rest >= divisor-rest
	if quotient > math.MaxInt64 || up && quotient == math.MaxInt64 {
		return 0, false
	}
	if up {
		quotient++
	}
	if (d.Coefficient < 0) != (distance < 0) {
		return -Distance(quotient), true
	}
	return Distance(quotient), true
}

// MarshalText writes what String does, so that JSON and YAML keep every digit.
func (d Decimal) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads what MarshalText wrote.
func (d *Decimal) UnmarshalText(text []byte) error {
	parsed, err := ParseDecimal(string(text))
	if err != nil {
		return err
	}
	*d = parsed
	return nil
}
