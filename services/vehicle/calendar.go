package vehicle

import "time"

// The first and the last date; arithmetic stops there.
var (
	firstDate = Date{1, time.January, 1}
	lastDate  = Date{9999, time.December, 31}
)

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

// MonthsBefore gives the moment n months before another, in UTC: on the day that
// AddMonths gives, at the same time of it.
func MonthsBefore(t time.Time, n int) time.Time {
	t = t.UTC()
	d := DateOf(t).AddMonths(-n)
	return time.Date(d.Year, d.Month, d.Day, t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), time.UTC)
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
