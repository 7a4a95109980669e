package vehicle

import (
	"halfshaft/services/fault"
	"halfshaft/services/wording"
)

// Entered is a distance as somebody entered it: the digits and the unit that
// were said, which no later conversion may change. The zero value is "nobody
// read it".
type Entered struct {
	Value Decimal
	Unit  Unit
}

// IsZero reports whether nothing was entered.
func (e Entered) IsZero() bool { return e.Unit == "" }

// Distance gives the exact distance in millimetres, rounded half away from
// zero where the digits are finer than that.
func (e Entered) Distance() (Distance, error) {
	if !e.Unit.Valid() {
		return 0, fault.InvalidField("unit", string(e.Unit), "mi or km")
	}
	d, ok := e.Value.Times(e.Unit.Distance())
	if !ok {
		return 0, fault.InvalidField("value", e.Value.String(), "a distance that a vehicle can cover")
	}
	return d, nil
}

// Text says it to people, with commas and the unit in words: "12,345.6 miles".
func (e Entered) Text() string {
	if e.IsZero() {
		return ""
	}
	number := wording.Grouped(e.Value.String())
	switch {
	case e.Unit == Miles && number == "1":
		return number + " mile"
	case e.Unit == Miles:
		return number + " miles"
	}
	return number + " " + string(e.Unit)
}

// String gives the digits and the unit: "12345.6 mi".
func (e Entered) String() string {
	if e.IsZero() {
		return ""
	}
	return e.Value.String() + " " + string(e.Unit)
}
