package forecast

import (
	"math"

	"halfshaft/services/vehicle"
)

// Never is the day that is given for a distance that is not in sight.
const Never int32 = 1 << 30

const (
	yearDays = 365.2425       // the mean year of the Gregorian calendar
	sight    = 100 * yearDays // how far ahead a day is looked for
	sameTime = 1e-5           // active days: less than a second, more than rounding adds up to
	zero     = -719528        // 0000-01-01 as a day since 1970-01-01
	century4 = 400*365 + 97   // days
)

// Point is a true distance that is known for the beginning of a day, counted in
// days since 1970-01-01 as vehicle.Date.Ordinal counts them.
type Point struct {
	Day      int32
	Distance vehicle.Distance
}

// Span is a lay-up: its first and its last day, both included. One that lasts
// has a last day of Never.
type Span struct{ From, To int32 }

// Calendar turns days into active time, in which use is even: a day of a lay-up
// counts nothing, any other day the weight of its month. The zero value counts
// each day as one. Lay-ups must be in order and apart.
type Calendar struct {
	LayUps []Span
	Season Season

	laid   []float64 // season's time in the lay-ups before each and, last, in all; when indexed
	starts []float64 // active time at the beginning of each
}

// Index prepares a calendar with lay-ups for many questions, in the memory it
// has. It is to be called again after a field was changed.
func (c *Calendar) Index() {
	c.laid, c.starts = c.laid[:0], c.starts[:0]
	sum := 0.0
	for _, s := range c.LayUps {
		from := c.Season.time(s.From)
		c.laid, c.starts = append(c.laid, sum), append(c.starts, from-sum)
		if s.To < Never-1 {
			sum += c.Season.time(s.To+1) - from
		}
	}
	c.laid = append(c.laid, sum)
}

// Active is the active time from some fixed day to the beginning of a day: only
// differences mean something.
func (c *Calendar) Active(day int32) float64 {
	at := c.Season.time(day)
	n := len(c.LayUps)
	if n == 0 {
		return at
	}
	if !c.indexed() {
		for _, s := range c.LayUps {
			if s.From >= day {
				break
			}
			at -= c.Season.time(min(s.To, day-1)+1) - c.Season.time(s.From)
		}
		return at
	}
	i := n - 1
	for i >= 0 && c.LayUps[i].From >= day { // most questions are about late days
		i--
	}
	if i < 0 {
		return at
	}
	s := c.LayUps[i]
	if s.To >= day-1 { // within it, time stands still
		return c.starts[i]
	}
	return at - c.laid[i+1]
}

func (c *Calendar) indexed() bool { return len(c.laid) == len(c.LayUps)+1 }

// After gives the day in whose course that much active time has passed since
// the beginning of a day, and the first day after a stretch of use at whose end
// it has just passed. It gives Never when that is over 100 years away.
func (c *Calendar) After(from int32, active float64) int32 {
	if active <= sameTime {
		return from
	}
	if !(active < sight) {
		return Never
	}
	if c.indexed() {
		return c.afterIndexed(from, c.Active(from)+active)
	}
	d, left := from, active
	for i := c.next(from); i < len(c.LayUps); i++ {
		s := c.LayUps[i]
		if s.From > d {
			free := c.Season.time(s.From) - c.Season.time(d)
			if left <= free+sameTime {
				return min(c.Season.after(d, left), s.From)
			}
			left -= free
		}
		if s.To >= Never-1 {
			return Never
		}
		d = s.To + 1
	}
	if reached := c.Season.after(d, left); float64(reached-from) < sight {
		return reached
	}
	return Never
}

// afterIndexed gives the day in whose course the active time reaches a target.
func (c *Calendar) afterIndexed(from int32, target float64) int32 {
	d, i := from, c.next(from)
	for ; i < len(c.LayUps) && target > c.starts[i]+sameTime; i++ {
		if c.LayUps[i].To >= Never-1 {
			return Never
		}
		d = max(d, c.LayUps[i].To+1)
	}
	reached := c.Season.reach(d, target+c.laid[i])
	if i < len(c.LayUps) {
		return min(reached, c.LayUps[i].From)
	}
	if float64(reached-from) < sight {
		return reached
	}
	return Never
}

// next gives the first lay-up that ends on a day or after it.
func (c *Calendar) next(day int32) int {
	i := len(c.LayUps)
	for i > 0 && c.LayUps[i-1].To >= day {
		i--
	}
	return i
}

// time is the sum of the weights of all days since the year 0 and before a day.
func (s *Season) time(day int32) float64 {
	if s.Source == Uniform {
		return float64(day)
	}
	year, month, of := civil(day)
	at := s.years(year)
	for m := range month {
		at += s.Weights[m] * float64(length(year, m))
	}
	return at + s.Weights[month]*float64(of)
}

// years is the time before a year's first of January.
func (s *Season) years(year int32) float64 {
	return float64(year)*s.year() + float64(leapsBefore(year))*s.Weights[1]
}

// after gives the first day at whose beginning the time has passed, or else in
// whose course it passes.
func (s *Season) after(from int32, time float64) int32 {
	if s.Source == Uniform {
		return from + int32(time+sameTime)
	}
	return s.reach(from, s.time(from)+time)
}

// reach is after for a time that counts from the year 0.
func (s *Season) reach(from int32, target float64) int32 {
	if s.Source == Uniform {
		return max(from, int32(math.Floor(target+sameTime)))
	}
	all := s.year()
	if all <= 0 {
		return Never
	}
	year := int32(target / (all + s.Weights[1]*0.2425))
	for s.years(year) > target-sameTime {
		year--
	}
	for s.years(year+1) < target-sameTime {
		year++
	}
	at := s.years(year)
	day := firstOf(year)
	for m := range int32(12) {
		n := length(year, m)
		whole := s.Weights[m] * float64(n)
		if target <= at+whole+sameTime {
			return max(from, day+min(n, int32(math.Max(0, target-at)/s.Weights[m]+sameTime)))
		}
		at += whole
		day += n
	}
	return max(from, day)
}

var monthDays = [12]int32{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}

func length(year, month int32) int32 {
	if month == 1 && year%4 == 0 && (year%100 != 0 || year%400 == 0) {
		return 29
	}
	return monthDays[month]
}

// leapsBefore counts the leap years from year 0 on and before a year.
func leapsBefore(year int32) int32 {
	y := year - 1
	return y/4 - y/100 + y/400 + 1
}

func firstOf(year int32) int32 { return zero + 365*year + leapsBefore(year) }

// civil gives year, month from 0, and day of the month from 0. Years are taken
// to begin with March, so that the leap day is their last and the months fall
// into a pattern of five (the method of the Julian day number tables).
func civil(day int32) (year, month, of int32) {
	n := day - zero - 60 // since the first of March of the year 0
	era := n / century4
	if n < 0 {
		era = (n - century4 + 1) / century4
	}
	n -= era * century4
	year = (n - n/1460 + n/36524 - n/146096) / 365
	n -= 365*year + year/4 - year/100
	month = (5*n + 2) / 153
	of = n - (153*month+2)/5
	year += era * 400
	if month += 2; month >= 12 {
		month, year = month-12, year+1
	}
	return year, month, of
}
