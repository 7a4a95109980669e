package figure

import (
	"strconv"
	"strings"

	"halfshaft/services/vehicle"
)

// Reader is who looks at a figure: their language and habit. The zero value
// reads English and miles.
type Reader struct {
	Language string       // "en" or "de"; any other reads English
	Unit     vehicle.Unit // of distances and speeds; no unit is miles

	// Date and Number write in the reader's habit; nil is that of the
	// language. A number comes as decimal text, "-1230.50", whose digits are all
	// to be kept.
	Date   func(vehicle.Date) string
	Number func(decimal string) string
}

func (r Reader) unit() vehicle.Unit {
	if r.Unit == vehicle.Kilometres {
		return r.Unit
	}
	return vehicle.Miles
}

// speedUnit is what speeds are in.
func (r Reader) speedUnit() string {
	if r.unit() == vehicle.Kilometres {
		return "km/h"
	}
	return "mph"
}

// number writes a number with so many decimals.
func (r Reader) number(value float64, decimals int) string {
	text := strconv.FormatFloat(value, 'f', decimals, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-") // nothing is less than nothing
	}
	if r.Number != nil {
		return r.Number(text)
	}
	number, minus := strings.CutPrefix(text, "-")
	whole, fraction, point := strings.Cut(number, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + r.say("number.group", nil) + whole[i:]
	}
	if minus {
		whole = "−" + whole
	}
	if point {
		whole += r.say("number.point", nil) + fraction
	}
	return whole
}

func (r Reader) count(n int) string { return r.number(float64(n), 0) }

// distance writes a distance to the whole unit: "14,230 miles".
func (r Reader) distance(d vehicle.Distance) string {
	n := d.Whole(r.unit())
	return r.counted("distance."+string(r.unit()), int(n), facts{"n": r.count(int(n))})
}

// whole writes a distance without its unit, for a column that names it.
func (r Reader) whole(d vehicle.Distance) string { return r.count(int(d.Whole(r.unit()))) }

// unitName is what stands over an axis of distances.
func (r Reader) unitName() string { return r.say("unit."+string(r.unit()), nil) }

// date writes a date in full: "12 December 2026".
func (r Reader) date(d vehicle.Date) string {
	switch {
	case d.IsZero():
		return ""
	case r.Date != nil:
		return r.Date(d)
	}
	return r.say("date", facts{"day": strconv.Itoa(d.Day), "month": r.month(d), "year": strconv.Itoa(d.Year)})
}

// day writes a date as short as it can be told, for a label: "12 Dec".
func (r Reader) day(d vehicle.Date) string {
	return r.say("day", facts{"day": strconv.Itoa(d.Day), "month": r.shortMonth(d)})
}

// shortDate is day with the year: "12 Dec 2026".
func (r Reader) shortDate(d vehicle.Date) string { return r.day(d) + " " + strconv.Itoa(d.Year) }

// monthYear writes a month: "December 2026".
func (r Reader) monthYear(d vehicle.Date) string { return r.month(d) + " " + strconv.Itoa(d.Year) }

func (r Reader) month(d vehicle.Date) string {
	return r.say("month."+strconv.Itoa(int(d.Month)), nil)
}

// shortMonth is a month in three letters.
func (r Reader) shortMonth(d vehicle.Date) string {
	name := []rune(r.month(d))
	return string(name[:min(3, len(name))])
}

// list puts words in a row as a sentence does.
func (r Reader) list(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return r.say("list", facts{"first": strings.Join(words[:len(words)-1], ", "), "last": words[len(words)-1]})
}

// facts are what a phrase has places for.
type facts map[string]string

// say gives a phrase in the reader's language, its places filled.
func (r Reader) say(key string, f facts) string {
	text, ok := german[key]
	if r.Language != "de" || !ok {
		text = english[key]
	}
	pairs := make([]string, 0, 2*len(f))
	for name, value := range f {
		pairs = append(pairs, "{"+name+"}", value)
	}
	return strings.NewReplacer(pairs...).Replace(text)
}

// counted is say for a number of things: one of them has a phrase of its own.
func (r Reader) counted(key string, n int, f facts) string {
	if n == 1 || n == -1 {
		return r.say(key+".one", f)
	}
	return r.say(key+".other", f)
}
