package vehicle

import (
	"strconv"

	"halfshaft/services/fault"
)

// Dial is the counter of one speedometer, as it can be read off its face.
type Dial struct {
	Digits       int  // wheels of whole units, tenths not counted: 5 shows up to 99,999
	Unit         Unit // what it counts
	TurnsPerUnit int  // turns of the cable for one unit, printed on the face: about 1000 per mile
	Tenths       bool // a further wheel shows tenths
}

// What a counter and its cable drive can be.
const (
	minDigits, maxDigits = 4, 7
	minTurns, maxTurns   = 100, 5000
)

// Modulus is the distance after which the dial shows the same again: 100,000
// miles for five digits. It is 0 for a dial that is not valid.
func (d Dial) Modulus() Distance {
	if d.Digits < minDigits || d.Digits > maxDigits {
		return 0
	}
	return Distance(powers[d.Digits]) * d.Unit.Distance()
}

// Validate gives what is wrong with the dial, in the words of its fields.
func (d Dial) Validate() []fault.Field {
	var wrong []fault.Field
	if d.Digits < minDigits || d.Digits > maxDigits {
		wrong = append(wrong, fault.Field{Name: "digits", Got: strconv.Itoa(d.Digits), Want: "4 to 7"})
	}
	if !d.Unit.Valid() {
		wrong = append(wrong, fault.Field{Name: "unit", Got: string(d.Unit), Want: "mi or km"})
	}
	if d.TurnsPerUnit < minTurns || d.TurnsPerUnit > maxTurns {
		wrong = append(wrong, fault.Field{
			Name: "turns_per_unit", Got: strconv.Itoa(d.TurnsPerUnit),
			Want: "100 to 5000 turns of the cable for one unit, as printed on the dial",
		})
	}
	return wrong
}

// Shows says whether the dial can show a value: not negative, no more digits
// than it has wheels, and no finer than its last wheel.
func (d Dial) Shows(value Decimal) bool {
	if d.Modulus() == 0 || value.Sign() < 0 {
		return false
	}
	if finest := (Decimal{Coefficient: 1, Scale: d.scale()}); value.Resolution().Cmp(finest) < 0 {
		return false
	}
	return value.Cmp(Decimal{Coefficient: int64(powers[d.Digits])}) < 0
}

// scale is the number of digits after the point that the dial shows.
func (d Dial) scale() uint8 {
	if d.Tenths {
		return 1
	}
	return 0
}

// Advance is the least distance, as the dial counts, that brings it from one
// reading to the other: 250 miles from 99,870 to 00,120 on five digits. Whether
// it rolled over, was replaced or was read wrongly is not for the dial to say.
// It is 0 for a dial that is not valid.
func (d Dial) Advance(from, to Distance) Distance {
	modulus := d.Modulus()
	if modulus == 0 {
		return 0
	}
	return ((to-from)%modulus + modulus) % modulus
}
