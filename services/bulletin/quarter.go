package bulletin

import (
	"fmt"
	"regexp"
	"strconv"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Quarter is a quarter of a calendar year.
type Quarter struct{ Year, Number int } // Number 1 to 4

var quarterForm = regexp.MustCompile(`^([0-9]{4})-Q([1-4])$`)

const (
	monthsPerQuarter = 3
	quarters         = 4
)

// ParseQuarter reads "2026-Q1". The error is of kind Invalid.
func ParseQuarter(text string) (Quarter, error) {
	m := quarterForm.FindStringSubmatch(text)
	if m == nil || m[1] == "0000" {
		return Quarter{}, fault.InvalidField("quarter", text, "year and quarter, as in 2026-Q1")
	}
	year, _ := strconv.Atoi(m[1]) // four digits
	number, _ := strconv.Atoi(m[2])
	return Quarter{year, number}, nil
}

// QuarterOf is the quarter of a day.
func QuarterOf(d vehicle.Date) Quarter {
	return Quarter{d.Year, (int(d.Month)-1)/monthsPerQuarter + 1}
}

// IsZero says whether it is no quarter.
func (q Quarter) IsZero() bool { return q == Quarter{} }

// String is "2026-Q1"; empty for no quarter.
func (q Quarter) String() string {
	if q.IsZero() {
		return ""
	}
	return fmt.Sprintf("%04d-Q%d", q.Year, q.Number)
}

// First is its first day.
func (q Quarter) First() vehicle.Date {
	return vehicle.Date{Year: q.Year, Month: time.Month((q.Number-1)*monthsPerQuarter + 1), Day: 1}
}

// Last is its last day.
func (q Quarter) Last() vehicle.Date { return q.First().AddMonths(monthsPerQuarter).AddDays(-1) }

// Next is the quarter after it.
func (q Quarter) Next() Quarter {
	if q.Number == quarters {
		return Quarter{q.Year + 1, 1}
	}
	return Quarter{q.Year, q.Number + 1}
}
