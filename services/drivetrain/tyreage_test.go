package drivetrain_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/drivetrain"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

var lookedAt = vehicle.MustDate(2026, time.November, 25)

func TestTheAgeCodeOfATyreIsItsWeekAndYear(t *testing.T) {
	for _, c := range []struct {
		name, code string
		on         vehicle.Date
		made       string
		age        string
	}{
		{"week 01 is the first full week, and not that of ISO", "0126", lookedAt, "2026-01-04", "10 months"}, // O-60
		{"a week in autumn", "3524", lookedAt, "2024-09-01", "2 years and 2 months"},                         // O-60
		{"the last week of a year", "5222", lookedAt, "2022-12-25", "3 years and 11 months"},                 // O-60
		{"a year with 53 weeks", "5323", lookedAt, "2023-12-31", "2 years and 10 months"},                    // by calendar: 1 January 2023 is a Sunday, so is 31 December
		{"a year that begins on a Sunday", "0123", lookedAt, "2023-01-01", "3 years and 10 months"},          // by calendar
		{"one of 2000", "0100", lookedAt, "2000-01-02", "26 years and 10 months"},                            // by calendar
		{"the first of four figures", "4099", lookedAt, "1999-10-03", "27 years and 1 month"},                // by calendar
		{"the week of the day itself", "4726", lookedAt, "2026-11-22", "less than a month"},                  // by calendar
		{"on the first day of its week", "4726", vehicle.MustDate(2026, time.November, 22), "2026-11-22", "less than a month"},
		{"on its fifth birthday", "0121", vehicle.MustDate(2026, time.January, 3), "2021-01-03", "5 years"}, // by calendar
		{"with a stroke", "35/24", lookedAt, "2024-09-01", "2 years and 2 months"},
		{"with a space", "35 24", lookedAt, "2024-09-01", "2 years and 2 months"},
		{"the whole number", "DOT XX1Z ABCD 3524", lookedAt, "2024-09-01", "2 years and 2 months"},
		{"a century on", "1026", vehicle.MustDate(2101, time.May, 1), "2026-03-08", "75 years and 1 month"},
	} {
		code, err := drivetrain.ParseTyreCode(c.code, c.on)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if a := code.Age(c.on); a.Made.String() != c.made || a.Text() != c.age || a.AtLeast {
			t.Errorf("%s: made from %s, %s old, want %s, %s", c.name, a.Made, a.Text(), c.made, c.age)
		}
	}
}

func TestWhatIsNoAgeCodeIsRefused(t *testing.T) {
	for _, c := range []struct{ name, code, want string }{
		{"no week 00", "0024", "a week of 01 to 53"},
		{"no week 54", "5424", "a week of 01 to 53"},
		{"no week 53 in a year without", "5325", "a week of 01 to 52: 2025 had no more"}, // its Sundays are 52, from 5 January
		{"a week that has not begun", "4826", "week 48 of 2026 begins on 29 November 2026"},
		{"a year in the future", "0127", "a year from 1999 to 2026"},
		{"a year before such codes", "1298", "a year from 1999 to 2026"},
		{"five figures", "35244", "four figures"},
		{"two figures", "35", "four figures"},
		{"a letter", "35Z4", "four figures"},
		{"a sign", "+524", "four figures"},
		{"other scripts' figures", "３５２４", "four figures"},
		{"nothing", " ", "four figures"},
		{"no end", strings.Repeat("DOT ", 100) + "3524", "four figures"},
		{"three figures, no week 00", "009", "a week of 01 to 53"},
		{"three figures, a week 53 that no such year had", "530", "a week that a year from 1971 to 2000"}, // 1980, 1990 have 52 Sundays from the first, 2000's 53rd is in December
	} {
		code, err := drivetrain.ParseTyreCode(c.code, lookedAt)
		var f *fault.Error
		if !errors.As(err, &f) || f.Kind != fault.Invalid || f.Reason != "TYRE_CODE" || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %+v, %v; want a refusal with %q", c.name, code, err, c.want)
		}
	}
	if _, err := drivetrain.ParseTyreCode("3524", vehicle.Date{}); !fault.Is(err, fault.Invalid) {
		t.Errorf("on no day: %v", err)
	}
}

func TestACodeOfThreeFiguresDoesNotTellItsDecade(t *testing.T) {
	for code, want := range map[string][]int{
		"129": {1979, 1989, 1999},
		"101": {1971, 1981, 1991},
		"100": {1980, 1990, 2000}, // until July 2000 three were right
		"300": {1980, 1990},
		"534": {1984}, // the only one of 53 Sundays that ends in 4
	} {
		c, err := drivetrain.ParseTyreCode(code, lookedAt)
		if err != nil || !slices.Equal(c.Years, want) || c.Year != 0 {
			t.Errorf("%s: %+v, %v; want %v", code, c, err, want)
			continue
		}
		a := c.Age(lookedAt)
		if !a.AtLeast || a.Made.Year != want[len(want)-1] || a.Advice != drivetrain.TyreRenew ||
			!strings.Contains(a.Reasons[0].Sentence, "before July 2000") || !strings.Contains(a.Reasons[1].Sentence, "at least ") {
			t.Errorf("%s: %+v", code, a)
		}
	}
	if c, err := drivetrain.ParseTyreCode("129", vehicle.MustDate(1990, time.May, 1)); err != nil || !slices.Equal(c.Years, []int{1979, 1989}) {
		t.Errorf("seen in 1990: %+v, %v", c, err)
	}
}

func TestTheAgeOfATyreAsksForAdvice(t *testing.T) {
	// Common practice, no source: looked at yearly from five years, renewed at
	// ten. Week 35 of 2016 begins on 28 August (by calendar).
	for _, c := range []struct {
		name, on string
		want     drivetrain.TyreAdvice
		says     string
	}{
		{"the day before five years", "2021-08-27", drivetrain.TyreYoung, "From 28 August 2021 on, at 5 years"},
		{"five years", "2021-08-28", drivetrain.TyreInspect, "renew it by 28 August 2026"},
		{"the day before ten", "2026-08-27", drivetrain.TyreInspect, "once a year"},
		{"ten years", "2026-08-28", drivetrain.TyreRenew, "whatever its tread"},
	} {
		on, err := vehicle.ParseDate(c.on)
		if err != nil {
			t.Fatal(err)
		}
		code, err := drivetrain.ParseTyreCode("3516", on)
		a := code.Age(on)
		last := a.Reasons[len(a.Reasons)-1].Sentence
		if err != nil || a.Advice != c.want || !strings.Contains(last, c.says) || !strings.Contains(last, "common practice, no source") || a.Caution == "" {
			t.Errorf("%s: %s, %q, %v", c.name, a.Advice, last, err)
		}
	}
}

// weeksByWalking is the dumb second way to the weeks of tyre codes: it walks
// through the days one by one, and counts Sundays.
func weeksByWalking(from, to int) map[string]vehicle.Date {
	weeks := map[string]vehicle.Date{}
	week := 0
	for d := vehicle.MustDate(from, time.January, 1); d.Year <= to; d = d.AddDays(1) {
		if d.Month == time.January && d.Day == 1 {
			week = 0 // the days before the first Sunday are of the last week of the year before
		}
		if d.Weekday() == time.Sunday {
			week++
			weeks[fmt.Sprintf("%02d of %d", week, d.Year)] = d
		}
	}
	return weeks
}

func TestEveryCodeHasTheWeekThatWalkingThroughTheDaysFinds(t *testing.T) {
	weeks := weeksByWalking(1971, 2100)
	for _, on := range []vehicle.Date{lookedAt, vehicle.MustDate(2000, time.March, 1), vehicle.MustDate(2001, time.January, 3), vehicle.MustDate(2098, time.December, 31)} {
		for n := range 10_000 {
			text := fmt.Sprintf("%04d", n)
			want, year := vehicle.Date{}, on.Year
			for year%100 != n%100 {
				year--
			}
			if starts, ok := weeks[fmt.Sprintf("%02d of %d", n/100, year)]; ok && year >= 1999 && !starts.After(on) {
				want = starts
			}
			code, err := drivetrain.ParseTyreCode(text, on)
			if got := code.Made(); got != want || (err == nil) != want.Valid() {
				t.Fatalf("%s on %s: %s, %v; by walking %s", text, on, got, err, want)
			}
		}
		for n := range 1000 {
			text := fmt.Sprintf("%03d", n)
			var want []int
			for year := 1971; year <= 2000; year++ {
				starts, ok := weeks[fmt.Sprintf("%02d of %d", n/10, year)]
				if ok && year%10 == n%10 && starts.Before(vehicle.MustDate(2000, time.July, 2)) && !starts.After(on) {
					want = append(want, year)
				}
			}
			code, err := drivetrain.ParseTyreCode(text, on)
			if !slices.Equal(code.Years, want) || (err == nil) != (len(want) > 0) {
				t.Fatalf("%s on %s: %v, %v; by walking %v", text, on, code.Years, err, want)
			}
		}
	}
}

func TestTheAgeOfATyreIsWhatCountingMonthsGives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		on := vehicle.MustDate(2000, time.January, 9).AddDays(rapid.IntRange(0, 40_000).Draw(t, "day"))
		code, err := drivetrain.ParseTyreCode(fmt.Sprintf("%02d%02d", rapid.IntRange(1, 53).Draw(t, "week"), on.Year%100-rapid.IntRange(0, 20).Draw(t, "years")), on)
		if err != nil {
			return
		}
		a, months := code.Age(on), 0
		for !a.Made.AddMonths(months + 1).After(on) {
			months++
		}
		if a.Years != months/12 || a.Months != months%12 || a.Made.After(on) || a.Made.Weekday() != time.Sunday {
			t.Fatalf("%s on %s: %d years and %d months, by counting %d months", a.Made, on, a.Years, a.Months, months)
		}
	})
}

func FuzzParseTyreCode(f *testing.F) {
	for _, seed := range []string{"3524", "35/24", "359", "DOT XX1Z ABCD 3524", "5325", "", "0000", "35\xff4", "９９９９"} {
		f.Add(seed, 20_000)
	}
	f.Fuzz(func(t *testing.T, text string, day int) {
		on := vehicle.DateFromOrdinal(day)
		c, err := drivetrain.ParseTyreCode(text, on)
		if err != nil {
			if !fault.Is(err, fault.Invalid) {
				t.Fatal(err)
			}
			return
		}
		again, err := drivetrain.ParseTyreCode(c.Text, on)
		if a := c.Age(on); err != nil || again.Made() != c.Made() || !a.Made.Valid() || a.Made.After(on) || a.Years < 0 || a.Months < 0 || a.Months > 11 {
			t.Fatalf("%q on %s: %+v, %v", text, on, a, err)
		}
	})
}
