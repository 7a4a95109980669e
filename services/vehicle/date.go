package vehicle

import (
	"fmt"
	"time"

	"halfshaft/services/fault"
)

// Date is a day of the calendar without time or zone, years 1 to 9999. It is
// comparable; the zero value means no date, is before every date, and stays
// zero whatever is added to it.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// The first and the last date; arithmetic stops there.
var (
	firstDate = Date{1, time.January, 1}
	lastDate  = Date{9999, time.December, 31}
)

// NewDate gives the date of a year, month and day that exist together, else a
// *fault.Error of kind Invalid with the reason DATE.
func NewDate(y int, m time.Month, d int) (Date, error) {
	date := Date{y, m, d}
	if !date.Valid() {
		return Date{}, dateError(fmt.Sprintf("%04d-%02d-%02d", y, int(m), d))
	}
	return date, nil
}

// MustDate is NewDate for dates written in code: it panics on one that does
// not exist.
func MustDate(y int, m time.Month, d int) Date {
	date, err := NewDate(y, m, d)
	if err != nil {
		panic(err)
	}
	return date
}

// ParseDate reads an ISO 8601 calendar date, exactly "2026-11-25". Other
// orders of day and month are refused, for nobody can tell 4/5 from 5/4.
func ParseDate(text string) (Date, error) {
	if len(text) != len("2006-01-02") || text[4] != '-' || text[7] != '-' {
		return Date{}, dateError(text)
	}
	y, okY := digits(text[0:4])
	m, okM := digits(text[5:7])
	d, okD := digits(text[8:10])
	date := Date{y, time.Month(m), d}
	if !okY || !okM || !okD || !date.Valid() {
		return Date{}, dateError(text)
	}
	return date, nil
}

// digits reads text of nothing but decimal digits.
func digits(text string) (n int, ok bool) {
	for i := range len(text) {
		if !isDigit(text[i]) {
			return 0, false
		}
		n = n*10 + int(text[i]-'0')
	}
	return n, true
}

func dateError(text string) error {
	return &fault.Error{
		Kind: fault.Invalid, Reason: "DATE", Message: "not a date",
		Fields: []fault.Field{{Name: "date", Got: text, Want: "a day of the calendar, as in 2026-11-25"}},
	}
}

// DateOf gives the day on which t falls in t's own location. Whose midnight
// counts is for the caller to say, with t.In. A time before year 1 or after
// 9999 gives no date.
func DateOf(t time.Time) Date {
	date := Date{Year: t.Year(), Month: t.Month(), Day: t.Day()}
	if !date.Valid() {
		return Date{}
	}
	return date
}

// Valid says whether d is a day of the calendar; the zero date is not.
func (d Date) Valid() bool {
	return d.Year >= 1 && d.Year <= 9999 && d.Month >= time.January && d.Month <= time.December &&
		d.Day >= 1 && d.Day <= daysIn(d.Year, d.Month)
}

// daysIn is the length of a month.
func daysIn(year int, month time.Month) int {
	switch month {
	case time.February:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	case time.April, time.June, time.September, time.November:
		return 30
	}
	return 31
}

// IsZero says whether d is no date.
func (d Date) IsZero() bool { return d == Date{} }

// Compare gives -1, 0 or +1 as d is before, equal to or after other; no date
// is before every date.
func (d Date) Compare(other Date) int {
	a, b := d.packed(), other.packed()
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// packed orders dates as their fields do.
func (d Date) packed() int { return d.Year<<9 | int(d.Month)<<5 | d.Day }

// Before says whether d is earlier than other.
func (d Date) Before(other Date) bool { return d.Compare(other) < 0 }

// After says whether d is later than other.
func (d Date) After(other Date) bool { return d.Compare(other) > 0 }

// AddDays gives the date n days later, or earlier for a negative n, no further
// than the first and last date.
func (d Date) AddDays(n int) Date {
	if d.IsZero() {
		return d
	}
	const calendar = 9999 * 366 // keeps the sum below from overflowing
	n = min(max(n, -calendar), calendar)
	return DateFromOrdinal(min(max(d.Ordinal()+n, firstDate.Ordinal()), lastDate.Ordinal()))
}

// AddMonths gives the same day n months later, or earlier for a negative n,
// constrained to the month's end: 31 January and one month is 28 or 29
// February. It does not go beyond the first and last date.
//
// For something that recurs, always count from the original date: 31 January
// by 1, 2, 3 months is 28 February, 31 March, 30 April, whereas adding one
// month to each result would stay at the 28th for ever.
func (d Date) AddMonths(n int) Date {
	if d.IsZero() {
		return d
	}
	const calendar = 9999 * 12
	n = min(max(n, -calendar), calendar)
	months := d.Year*12 + int(d.Month-time.January) + n
	switch {
	case months < 12:
		return firstDate
	case months >= (9999+1)*12:
		return lastDate
	}
	year, month := months/12, time.Month(months%12)+time.January
	return Date{year, month, min(d.Day, daysIn(year, month))}
}

// DaysUntil is the number of days from d to other, negative when other is
// earlier.
func (d Date) DaysUntil(other Date) int { return other.Ordinal() - d.Ordinal() }

// MonthsUntil is the number of whole months from d to other: the greatest n,
// or for an earlier other the least, for which d.AddMonths(n) is not beyond
// other. 0 when either is no date.
func (d Date) MonthsUntil(other Date) int {
	if d.IsZero() || other.IsZero() {
		return 0
	}
	n := (other.Year-d.Year)*12 + int(other.Month-d.Month)
	switch reached := d.AddMonths(n); {
	case n > 0 && reached.After(other):
		n--
	case n < 0 && reached.Before(other):
		n++
	}
	return n
}

// Ordinal is the number of days since 1970-01-01, negative before it. No date
// has the ordinal just below that of 0001-01-01.
func (d Date) Ordinal() int {
	if d.IsZero() {
		return noDateOrdinal
	}
	// The year is made to begin in March, so that the leap day is its last,
	// and 153 days for each five months place the month.
	y, m := d.Year, int(d.Month)-3
	if m < 0 {
		y, m = y-1, m+12
	}
	return y*365 + y/4 - y/100 + y/400 + (153*m+2)/5 + d.Day - 1 - epoch
}

const (
	epoch         = 719468       // days from 0000-03-01 to 1970-01-01
	noDateOrdinal = -719162 - 1  // the day before 0001-01-01
	fourCenturies = 400*365 + 97 // days
	oneCentury    = 100*365 + 24 // days, without the leap day of the fourth
	fourYears     = 4*365 + 1    // days
)

// DateFromOrdinal is the date that many days after 1970-01-01. Below
// 0001-01-01 there is no date; after 9999-12-31 that last date is given.
func DateFromOrdinal(n int) Date {
	switch {
	case n <= noDateOrdinal:
		return Date{}
	case n >= lastDate.Ordinal():
		return lastDate
	}
	n += epoch
	era, dayOfEra := n/fourCenturies, n%fourCenturies
	yearOfEra := (dayOfEra - dayOfEra/(fourYears-1) + dayOfEra/oneCentury - dayOfEra/(fourCenturies-1)) / 365
	dayOfYear := dayOfEra - (365*yearOfEra + yearOfEra/4 - yearOfEra/100)
	m := (5*dayOfYear + 2) / 153
	date := Date{era*400 + yearOfEra, time.Month(m + 3), dayOfYear - (153*m+2)/5 + 1}
	if date.Month > time.December {
		date.Year, date.Month = date.Year+1, date.Month-12
	}
	return date
}

// Weekday is the day of the week; it means nothing for no date.
func (d Date) Weekday() time.Weekday {
	const thursday = int(time.Thursday) // 1970-01-01 was one
	return time.Weekday(((d.Ordinal()+thursday)%7 + 7) % 7)
}

// Start is the first moment of the day in a zone: where the clocks go forward
// at midnight that is 01:00, where they go back over it the earlier of the two
// midnights. It is the zero time for no date.
func (d Date) Start(zone *time.Location) time.Time {
	if d.IsZero() {
		return time.Time{}
	}
	t := time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, zone)
	if t.Day() != d.Day { // a gap, which time.Date resolved into the day before
		return t.Add(time.Hour)
	}
	if earlier := t.Add(-time.Hour); earlier.Day() == d.Day {
		return earlier
	}
	return t
}

// String is the date in ISO 8601, "2026-11-25"; empty for no date.
func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, int(d.Month), d.Day)
}

// Long is the date for a letter, "25 November 2026"; empty for no date.
func (d Date) Long() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%d %s %d", d.Day, d.Month, d.Year)
}

// MarshalText gives the ISO form, so that JSON and YAML carry dates as text;
// no date is empty text.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads what MarshalText wrote.
func (d *Date) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*d = Date{}
		return nil
	}
	date, err := ParseDate(string(text))
	if err != nil {
		return err
	}
	*d = date
	return nil
}
