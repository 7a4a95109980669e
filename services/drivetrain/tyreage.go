package drivetrain

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// The age code stands at the end of the identification number of a tyre: two
// figures for the week and two for the year in which it was made.
//
// Week 01 is the first full week of the year from Sunday to Saturday, and the
// last week may run up to six days into the year after (49 CFR 574.5; for the
// wording of the week rule, from memory). Those are not the weeks of ISO 8601:
// week 1 of 2026 is from 4 January here, and from 29 December 2025 there.

// TyreCode is the age code of a tyre as it was read.
type TyreCode struct {
	Text string // its figures: "3524"; "359" for an old one
	Week int    // 1 to 53

	// Year is the one in which it was made; 0 for a code of three figures, which
	// has the last figure of the year only.
	Year int

	// Years are those that a code of three figures can mean, the earliest first.
	Years []int
}

// When codes of three figures ended: from 2 July 2000 on four are asked for (64
// FR 36807; the day from memory), and some were made so in the year before.
// Codes of this form are asked for since May 1971 (from memory).
const (
	firstCodedYear   = 1971
	firstFourFigures = 1999
	lastThreeFigures = 2000
)

var fourFiguresFrom = vehicle.MustDate(2000, time.July, 2)

// ParseTyreCode reads the age code of a tyre on a day: "3524", "35/24", or the
// whole number from DOT on with the code as its last group. The year is the
// latest of its last two figures for which the week has begun on that day: a
// tyre was never made in the future.
//
// It refuses with a *fault.Error of kind Invalid and the reason TYRE_CODE what
// is no code: other than three or four figures, a week that its year does not
// have, and a year that lies in the future or before such codes.
func ParseTyreCode(text string, on vehicle.Date) (TyreCode, error) {
	if !on.Valid() {
		return TyreCode{}, fault.InvalidField("on_date", on.String(), "the day on which the tyre is looked at")
	}
	figures := codeFigures(text)
	if len(figures) != 3 && len(figures) != 4 {
		return TyreCode{}, codeError(text, "four figures, as in 3524 for week 35 of 2024, or three on a tyre of before July 2000")
	}
	c := TyreCode{Text: figures}
	c.Week, _ = strconv.Atoi(figures[:2])
	if c.Week < 1 || c.Week > 53 {
		return TyreCode{}, codeError(text, "a week of 01 to 53 in the first two figures")
	}
	if len(figures) == 3 {
		return c.inDecades(text, on)
	}
	return c.inYear(text, on)
}

// codeFigures takes the figures of the code out of what was read off the tyre;
// "" where there is something else.
func codeFigures(text string) string {
	const longest = 64
	groups := strings.Fields(text)
	if len(text) > longest || len(groups) == 0 {
		return ""
	}
	if strings.ContainsFunc(strings.Join(groups[:len(groups)-1], ""), isLetter) {
		groups = groups[len(groups)-1:] // the whole number: the code is its last group
	}
	code := strings.Join(groups, "")
	if len(code) == 5 && strings.ContainsRune("/-.", rune(code[2])) {
		code = code[:2] + code[3:]
	}
	if strings.ContainsFunc(code, func(r rune) bool { return r < '0' || r > '9' }) {
		return ""
	}
	return code
}

func isLetter(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' }

// inYear finds the year of a code of four figures.
func (c TyreCode) inYear(text string, on vehicle.Date) (TyreCode, error) {
	last, _ := strconv.Atoi(c.Text[2:])
	year := on.Year - (on.Year-last)%100
	if year > on.Year { // the remainder of a negative number is negative
		year -= 100
	}
	if last == on.Year%100 && firstDayOfWeek(year, c.Week).After(on) {
		return TyreCode{}, codeError(text, fmt.Sprintf("a week that has begun: week %02d of %d begins on %s",
			c.Week, year, firstDayOfWeek(year, c.Week).Long()))
	}
	if year < firstFourFigures {
		return TyreCode{}, codeError(text, fmt.Sprintf("a year from %d to %d in the last two figures: before, the code had three",
			firstFourFigures, max(on.Year, firstFourFigures)))
	}
	if c.Week > weeksOf(year) {
		return TyreCode{}, codeError(text, fmt.Sprintf("a week of 01 to %d: %d had no more", weeksOf(year), year))
	}
	c.Year = year
	return c, nil
}

// inDecades finds the years that a code of three figures can mean.
func (c TyreCode) inDecades(text string, on vehicle.Date) (TyreCode, error) {
	last := int(c.Text[2] - '0')
	for year := firstCodedYear; year <= lastThreeFigures; year++ {
		starts := firstDayOfWeek(year, c.Week)
		if year%10 == last && c.Week <= weeksOf(year) && starts.Before(fourFiguresFrom) && !starts.After(on) {
			c.Years = append(c.Years, year)
		}
	}
	if len(c.Years) == 0 {
		return TyreCode{}, codeError(text, fmt.Sprintf("a week that a year from %d to %d with that last figure had", firstCodedYear, lastThreeFigures))
	}
	return c, nil
}

func codeError(text, want string) error {
	return &fault.Error{
		Kind: fault.Invalid, Reason: "TYRE_CODE", Message: "this is not the age code of a tyre",
		Fields: []fault.Field{{Name: "code", Got: text, Want: want}},
	}
}

// firstDayOfWeek is the Sunday on which a week of the codes begins.
func firstDayOfWeek(year, week int) vehicle.Date {
	newYear := vehicle.Date{Year: year, Month: time.January, Day: 1}
	toSunday := (7 - int(newYear.Weekday())) % 7
	return newYear.AddDays(toSunday + 7*(week-1))
}

// weeksOf is how many weeks a year has: 53 where it has so many Sundays.
func weeksOf(year int) int {
	if firstDayOfWeek(year, 53).Year == year {
		return 53
	}
	return 52
}

// Made gives the first day of the week in which the tyre was made, of the latest
// year that the code can mean.
func (c TyreCode) Made() vehicle.Date {
	year := c.Year
	if year == 0 && len(c.Years) > 0 {
		year = c.Years[len(c.Years)-1]
	}
	if year == 0 {
		return vehicle.Date{}
	}
	return firstDayOfWeek(year, c.Week)
}
