package locale

import (
	"cmp"
	"strconv"
	"strings"
	"sync"

	"golang.org/x/text/language"

	"halfshaft/services/vehicle"
)

// Locale writes dates, distances and numbers. It is safe for concurrent use.
type Locale struct {
	phrases    Phrases
	numbers    *numbers
	monthFirst bool
	unit       vehicle.Unit
}

var basicCatalogue = sync.OnceValue(func() *Catalogue {
	c, err := Load(nil, nil)
	if err != nil {
		panic(err) // the files are built in, and a test reads them
	}
	return c
})

// For gives the habit of a reader: their language, the BCP 47 tag whose dates
// and numbers they are used to ("" is the language's), and their unit of
// distance. A unit that is none is miles.
func For(language, formats string, unit vehicle.Unit) Locale {
	return basicCatalogue().For(language).Locale(cmp.Or(formats, language), unit)
}

// Locale gives the habit of a reader of these phrases; see For.
func (p Phrases) Locale(formats string, unit vehicle.Unit) Locale {
	h := p.own.habits.get(formats)
	if !unit.Valid() {
		unit = vehicle.Miles
	}
	return Locale{phrases: p, numbers: h.numbers, monthFirst: h.monthFirst, unit: unit}
}

// habit is how the readers of a tag write numbers and dates.
type habit struct {
	numbers    *numbers
	monthFirst bool
}

// habitOf reads a tag; own stands in for one that is none.
func habitOf(own language.Tag, formats string) habit {
	tag := own
	if of, err := language.Parse(formats); err == nil && of != language.Und {
		tag = of
	}
	region, confidence := tag.Region()
	return habit{numbersOf(tag), confidence == language.Exact && monthFirst[region.String()]}
}

// monthFirst are the regions in which English puts the month before the day
// (CLDR, as Chromium 156 writes long dates).
var monthFirst = map[string]bool{
	"US": true, "CA": true, "PH": true,
	"AS": true, "GU": true, "MH": true, "MP": true, "PR": true, "UM": true, "VI": true,
}

// Unit is the reader's unit of distance.
func (l Locale) Unit() vehicle.Unit { return l.unit }

// Tag is the BCP 47 tag of the language.
func (l Locale) Tag() string { return l.phrases.Tag() }

// Date writes a date: "12 December 2026"; "" for none.
func (l Locale) Date(d vehicle.Date) string { return l.date("locale.date", d) }

// Day writes a date without its year: "12 December"; "" for none.
func (l Locale) Day(d vehicle.Date) string { return l.date("locale.day", d) }

func (l Locale) date(key string, d vehicle.Date) string {
	if d.IsZero() {
		return ""
	}
	if l.monthFirst {
		key += ".month-first"
	}
	return l.phrases.Say(key, map[string]string{
		"day": strconv.Itoa(d.Day), "month": l.Month(int(d.Month)), "year": strconv.Itoa(d.Year),
	})
}

// Month names a month, 1 to 12: "May".
func (l Locale) Month(m int) string { return l.phrases.Say("locale.month."+strconv.Itoa(m), nil) }

// Distance writes a distance in the reader's unit, to the whole unit: "1 mile",
// "14,230 miles".
func (l Locale) Distance(d vehicle.Distance) string {
	n := d.Whole(l.unit)
	key := "locale.miles"
	if l.unit == vehicle.Kilometres {
		key = "locale.kilometres"
	}
	return l.phrases.Count(key, n, map[string]string{"n": l.Number(n)})
}

// About writes a distance that nobody measured so finely, to two digits that
// count and the reader's unit: 3,000 miles are "4,800 km". It is the one rule for
// what people are told with "about", in letters and on pages; what a dial showed
// stays as it is, by Entered.
func (l Locale) About(d vehicle.Distance) string {
	step := l.unit.Distance()
	for d/step >= 100 || d/step <= -100 {
		step *= 10
	}
	half := step / 2
	if d < 0 {
		half = -half
	}
	return l.Distance((d + half) / step * step)
}

// Entered writes what a dial shows. Where its unit is not the reader's, theirs
// comes first and the dial's own figures stand behind it: "7,754 km (4,818
// miles)".
func (l Locale) Entered(e vehicle.Entered) string {
	shown, key := l.Decimal(e.Value.String()), "locale.miles"
	if e.Unit == vehicle.Kilometres {
		key = "locale.kilometres"
	}
	n := int64(2) // of a fraction the plural stands
	if d, err := e.Distance(); err == nil && d%e.Unit.Distance() == 0 {
		n = d.Whole(e.Unit)
	}
	dial := l.phrases.Count(key, n, map[string]string{"n": shown})
	if d, err := e.Distance(); err == nil && e.Unit != l.unit {
		return l.Distance(d) + " (" + dial + ")"
	}
	return dial
}

// Number writes a whole number in groups: "14,230".
func (l Locale) Number(n int64) string {
	return l.numbers.write(n)
}

// Decimal writes decimal text ("0.05") with the reader's decimal mark and every
// digit that it has. What is no decimal stays as it is.
func (l Locale) Decimal(text string) string {
	whole, fraction, point := strings.Cut(text, ".")
	n, err := strconv.ParseUint(strings.TrimLeft(whole, "+-"), 10, 53)
	if err != nil || point && strings.Trim(fraction, "0123456789") != "" || point && fraction == "" {
		return text
	}
	sign := whole[:len(whole)-len(strings.TrimLeft(whole, "+-"))]
	out := strings.ReplaceAll(sign, "-", l.numbers.minus) + l.Number(int64(n))
	if point {
		out += l.numbers.fraction(fraction)
	}
	return out
}

// List puts words in a row as a sentence does: "June, July and August".
func (l Locale) List(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return l.phrases.Say("locale.and", map[string]string{
		"first": strings.Join(words[:len(words)-1], ", "), "last": words[len(words)-1],
	})
}
