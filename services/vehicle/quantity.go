package vehicle

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"halfshaft/services/fault"
)

// Quantity is a measured or prescribed value with its unit and, in the scale
// of the value, its resolution: "0.10 mm", "65 N·m", "4.5 L". The unit is kept
// as it was written; In tells the value in another, exactly, and changes nothing.
type Quantity struct {
	Value Decimal
	Unit  string
}

// maxUnit is the most characters a unit has.
const maxUnit = 24

// ParseQuantity reads a number and its unit, with or without a space between
// them. The number is as for ParseDecimal. A number alone is refused: 0.18 may
// be millimetres or thousandths of an inch, and whoever measured must say. The
// error is a *fault.Error of kind Invalid with the reason QUANTITY.
func ParseQuantity(text string) (Quantity, error) {
	value, rest, ok := leadingDecimal(strings.TrimSpace(text))
	unit := strings.Join(strings.Fields(rest), " ")
	if !ok || !isMeasuringUnit(unit) {
		return Quantity{}, &fault.Error{
			Kind: fault.Invalid, Reason: "QUANTITY", Message: "not a measured value",
			Fields: []fault.Field{{Name: "value", Got: text, Want: "a number and its unit, as in 0.10 mm"}},
		}
	}
	return Quantity{Value: value, Unit: unit}, nil
}

// isMeasuringUnit says whether text can be a unit: it begins with a letter or
// a sign that stands for a unit, so that "1,230", "0.1-0.2 mm" and "5 10 mm"
// are not taken for a number and a unit; nor is an exponent.
func isMeasuringUnit(text string) bool {
	first, size := utf8.DecodeRuneInString(text)
	if !unicode.IsLetter(first) && !strings.ContainsRune(`°%"'`, first) {
		return false
	}
	if rest := text[size:]; (first == 'e' || first == 'E') && rest != "" &&
		(isDigit(rest[0]) || rest[0] == '-' || rest[0] == '+') {
		return false
	}
	if utf8.RuneCountInString(text) > maxUnit || !utf8.ValidString(text) {
		return false
	}
	for _, r := range text {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune("°%\"'·⋅*/²³^-. ()", r) {
			return false
		}
	}
	return true
}

// String writes the quantity as ParseQuantity reads it: "0.10 mm".
func (q Quantity) String() string {
	if q.Unit == "" {
		return q.Value.String()
	}
	return q.Value.String() + " " + q.Unit
}

// Cmp compares two quantities of the same unit as Decimal.Cmp does. It reports
// false when the units differ, for then there is no order to tell.
func (q Quantity) Cmp(other Quantity) (order int, ok bool) {
	if q.Unit != other.Unit {
		return 0, false
	}
	return q.Value.Cmp(other.Value), true
}

// MarshalText writes what String does; the zero quantity is empty text.
func (q Quantity) MarshalText() ([]byte, error) {
	if q == (Quantity{}) {
		return nil, nil
	}
	return []byte(q.String()), nil
}

// UnmarshalText reads what MarshalText wrote.
func (q *Quantity) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*q = Quantity{}
		return nil
	}
	parsed, err := ParseQuantity(string(text))
	if err != nil {
		return err
	}
	*q = parsed
	return nil
}
