package ownerpages

import (
	"errors"
	"strings"

	"halfshaft/services/vehicle"
)

// errFigures says that something is not what a dial shows.
var errFigures = errors.New("not figures of a dial")

// errTooMany says that it is a number, and more than any dial shows.
var errTooMany = errors.New("more than a dial shows")

// mostDigits is how many digits a dial has at most, tenths not counted.
const mostDigits = 7

// maxFigures is the longest text that is read, in bytes.
const maxFigures = 40

// readFigures reads what somebody typed off a dial, with or without marks
// between thousands and before the tenths. mark is the reader's decimal mark.
//
// Two values come back where a mark with three digits behind may be either and
// is not the reader's mark of thousands: "3.150" is 3150 to a German reader,
// and 3150 or 3.150 to an English one.
func readFigures(text string, mark rune) ([]vehicle.Decimal, error) {
	text, err := withoutSpaces(text)
	if err != nil {
		return nil, err
	}
	points, commas := strings.Count(text, "."), strings.Count(text, ",")
	switch {
	case points == 0 && commas == 0:
		return one(text)
	case points > 0 && commas > 0:
		return mixed(text)
	case points+commas > 1:
		return grouped(text, strings.TrimLeft(text, "0123456789")[:1])
	}
	at := strings.IndexAny(text, ".,")
	whole, rest := text[:at], text[at+1:]
	asDecimal := whole + "." + rest
	switch {
	case rest == "":
		return one(whole)
	case len(rest) != 3 || len(whole) == 0 || len(whole) > 3 || whole == "0":
		return one(asDecimal)
	case rune(text[at]) != mark: // what the reader puts between thousands
		return one(whole + rest)
	}
	thousands, err := one(whole + rest)
	if err != nil {
		return nil, err
	}
	decimal, err := one(asDecimal)
	return append(thousands, decimal...), err
}

// withoutSpaces takes out the spaces and apostrophes between thousands, and
// refuses all but digits and marks.
func withoutSpaces(text string) (string, error) {
	text = strings.TrimSpace(text)
	if text == "" || len(text) > maxFigures {
		return "", errFigures
	}
	parts := strings.FieldsFunc(text, func(r rune) bool {
		// A space, one that does not break, a thin one, a narrow one; an
		// apostrophe of either form.
		return strings.ContainsRune(" \u00a0\u2009\u202f'\u2019", r)
	})
	for i, part := range parts {
		digits := len(part) - len(strings.TrimLeft(part, "0123456789"))
		last := i == len(parts)-1
		if i > 0 && digits != 3 || i == 0 && !last && digits > 3 || !last && digits != len(part) || strings.Trim(part, "0123456789.,") != "" {
			return "", errFigures
		}
	}
	return strings.Join(parts, ""), nil
}

// mixed reads a number with both marks: the last one stands before the tenths.
func mixed(text string) ([]vehicle.Decimal, error) {
	at := strings.LastIndexAny(text, ".,")
	whole, last, rest := text[:at], text[at:at+1], text[at+1:]
	if strings.Contains(whole, last) || rest == "" {
		return nil, errFigures
	}
	values, err := grouped(whole, strings.TrimLeft(whole, "0123456789")[:1])
	if err != nil {
		return nil, err
	}
	return one(values[0].String() + "." + rest)
}

// grouped reads a number in groups of three.
func grouped(text, mark string) ([]vehicle.Decimal, error) {
	groups := strings.Split(text, mark)
	for i, group := range groups {
		if i > 0 && len(group) != 3 || i == 0 && (group == "" || len(group) > 3) {
			return nil, errFigures
		}
	}
	return one(strings.Join(groups, ""))
}

// one reads a number with a point and at most three digits behind it.
func one(text string) ([]vehicle.Decimal, error) {
	if strings.Trim(text, "0123456789.") != "" || strings.HasSuffix(text, ".") {
		return nil, errFigures
	}
	if whole, _, _ := strings.Cut(text, "."); strings.Count(text, ".") < 2 && len(strings.TrimLeft(whole, "0")) > mostDigits {
		return nil, errTooMany
	}
	d, err := vehicle.ParseDecimal(text)
	if err != nil || d.Scale > 3 {
		return nil, errFigures
	}
	if d.Cmp(vehicle.Decimal{Coefficient: mostShown(mostDigits)}) > 0 { // 9,999,999.5
		return nil, errTooMany
	}
	return []vehicle.Decimal{d}, nil
}

// mark is the decimal mark of a reader.
func (r reader) mark() rune {
	if strings.Contains(r.habit.Decimal("0.5"), ",") {
		return ','
	}
	return '.'
}
