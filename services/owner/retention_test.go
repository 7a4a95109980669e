package owner

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

func onDay(y int, m time.Month, d int) vehicle.Date { return vehicle.Date{Year: y, Month: m, Day: d} }

func TestThePersonsTimeIsOverYearsAfterTheirLastTie(t *testing.T) {
	today := onDay(2026, time.November, 25)
	made := time.Date(2019, time.March, 3, 23, 30, 0, 0, time.UTC)
	for name, c := range map[string]struct {
		ties []Tie
		made time.Time
		due  bool
		on   vehicle.Date
	}{
		"a tie lasts":                           {[]Tie{{Start: onDay(2019, 4, 1)}}, made, false, vehicle.Date{}},
		"one of two lasts":                      {[]Tie{{Start: onDay(2019, 4, 1), End: onDay(2020, 1, 1)}, {Start: onDay(2020, 4, 1)}}, made, false, vehicle.Date{}},
		"one is to begin":                       {[]Tie{{Start: onDay(2027, 4, 1)}}, made, false, vehicle.Date{}},
		"one is to end":                         {[]Tie{{Start: onDay(2019, 4, 1), End: onDay(2026, 11, 26)}}, made, false, vehicle.Date{}},
		"ended three years ago today":           {[]Tie{{End: onDay(2023, 11, 25)}}, made, true, onDay(2026, 11, 25)},
		"ended a day later":                     {[]Tie{{End: onDay(2023, 11, 26)}}, made, false, onDay(2026, 11, 26)},
		"the last of several counts":            {[]Tie{{End: onDay(2023, 11, 20)}, {End: onDay(2021, 1, 1)}}, made, true, onDay(2026, 11, 20)},
		"ended on a leap day":                   {[]Tie{{End: onDay(2020, 2, 29)}}, made, true, onDay(2023, 2, 28)},
		"never tied, made long ago":             {nil, made, true, onDay(2022, 3, 3)},
		"never tied, made of late":              {nil, time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC), false, onDay(2029, 1, 1)},
		"made after the last tie had ended":     {[]Tie{{End: onDay(2018, 1, 1)}}, made, true, onDay(2021, 1, 1)},
		"never tied, nobody knows when made":    {nil, time.Time{}, false, vehicle.Date{}},
		"nobody knows when made, but tied once": {[]Tie{{End: onDay(2018, 1, 1)}}, time.Time{}, true, onDay(2021, 1, 1)},
	} {
		e, due := PersonExpiry(Person{Created: c.made}, c.ties, UsualYears, today)
		if due != c.due || e.Due != c.on {
			t.Errorf("%s: got %v on %v, want %v on %v", name, due, e.Due, c.due, c.on)
		}
	}
}

func TestAPhotographsTimeIsOverAfterTwoYears(t *testing.T) {
	today := onDay(2026, time.November, 25)
	for name, c := range map[string]struct {
		came time.Time
		due  bool
	}{
		"two years ago":             {time.Date(2024, 11, 25, 23, 59, 0, 0, time.UTC), true},
		"a day less":                {time.Date(2024, 11, 26, 0, 0, 0, 0, time.UTC), false},
		"nobody knows when it came": {time.Time{}, false},
	} {
		if _, due := DocumentExpiry(Document{Created: c.came}, today); due != c.due {
			t.Errorf("%s: got %v", name, due)
		}
	}
}

// Nobody's time is over while a tie lasts, and once it is over it stays so.
func TestWhoseTimeIsOverStaysSoAndWhoIsTiedIsKept(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		day := func(name string) vehicle.Date {
			return onDay(2015, 1, 1).AddDays(rapid.IntRange(0, 5000).Draw(t, name))
		}
		var ties []Tie
		for range rapid.IntRange(0, 4).Draw(t, "ties") {
			tie := Tie{Start: day("start")}
			if rapid.Bool().Draw(t, "ended") {
				tie.End = day("end")
			}
			ties = append(ties, tie)
		}
		p, years, today := Person{Created: day("made").Start(time.UTC)}, rapid.IntRange(1, 9).Draw(t, "years"), day("today")
		_, due := PersonExpiry(p, ties, years, today)
		for _, tie := range ties {
			if tie.Lasts(today) && due {
				t.Fatalf("erased while tied: %v on %v", ties, today)
			}
		}
		if _, later := PersonExpiry(p, ties, years, today.AddDays(rapid.IntRange(0, 900).Draw(t, "more"))); due && !later {
			t.Fatalf("due on %v and not later: %v", today, ties)
		}
		if _, sooner := PersonExpiry(p, ties, years+1, today); sooner && !due {
			t.Fatalf("due after %d years and not after %d", years+1, years)
		}
	})
}

func TestAHoldIsOneLine(t *testing.T) {
	for hold, good := range map[string]bool{"": true, "file 2026/114": true, "two\nlines": false, " space": false} {
		if got := len(holdFaults(hold)) == 0; got != good {
			t.Errorf("%q: got %v", hold, got)
		}
	}
}
