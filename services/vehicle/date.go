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
