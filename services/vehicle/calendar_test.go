package vehicle_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

// dates generates days of the calendar, a year away from its ends, where
// arithmetic stops.
func dates() *rapid.Generator[vehicle.Date] {
	first, last := vehicle.MustDate(2, 1, 1).Ordinal(), vehicle.MustDate(9998, 12, 31).Ordinal()
	return rapid.Map(rapid.IntRange(first, last), vehicle.DateFromOrdinal)
}

func TestAddMonthsKeepsToTheMonthsEnd(t *testing.T) {
	for _, c := range []struct {
		name, from string
		months     int
		want       string
	}{
		{"31 March and a month", "2007-03-31", 1, "2007-04-30"},         // java.time LocalDate.plusMonths documentation, O-20
		{"leap day and a year", "2008-02-29", 12, "2009-02-28"},         // java.time LocalDate.plusYears documentation, O-21
		{"leap day and twelve months", "2024-02-29", 12, "2025-02-28"},  // O-21, recomputed with dateutil
		{"leap day and four years", "2024-02-29", 48, "2028-02-29"},     // O-21, recomputed with dateutil
		{"31 October is not 1 December", "2026-10-31", 1, "2026-11-30"}, // the trap of time.AddDate, O-22
		{"31 August and six months", "2026-08-31", 6, "2027-02-28"},     // pitfalls.md, "Dates, zones"
		{"backwards over the year", "2026-01-31", -2, "2025-11-30"},     // by hand
		{"a century that is no leap year", "2096-02-29", 48, "2100-02-28"},
		{"no months", "2026-11-25", 0, "2026-11-25"},
		{"not beyond the last date", "9999-01-01", 100, "9999-12-31"},
		{"not beyond the first date", "0001-02-01", -100, "0001-01-01"},
		{"an absurd number", "2026-11-25", 1 << 62, "9999-12-31"},
	} {
		if got := day(t, c.from).AddMonths(c.months).String(); got != c.want {
			t.Errorf("%s: %s + %d months = %s, want %s", c.name, c.from, c.months, got, c.want)
		}
	}
}

func TestMonthlyDatesAreCountedFromTheOriginal(t *testing.T) {
	// O-23: 2026-01-31 monthly, six times.
	start := day(t, "2026-01-31")
	for i, want := range []string{"2026-02-28", "2026-03-31", "2026-04-30", "2026-05-31", "2026-06-30", "2026-07-31"} {
		if got := start.AddMonths(i + 1).String(); got != want {
			t.Errorf("month %d: %s, want %s", i+1, got, want)
		}
	}
}

func TestWarrantyAndNoticePeriodsCountDays(t *testing.T) {
	// O-58: sixty days from the filing of a report (49 CFR 577.7(a)(1)).
	for from, want := range map[string]string{"2026-03-09": "2026-05-08", "2027-12-31": "2028-02-29"} {
		if got := day(t, from).AddDays(60).String(); got != want {
			t.Errorf("%s + 60 days = %s, want %s", from, got, want)
		}
	}
}

// walkMonths finds the same day n months later as a child would: day by day
// over the calendar of the time package, counting the months that begin, then
// on to the day or to the end of the month.
func walkMonths(from vehicle.Date, n int) vehicle.Date {
	step := 1
	if n < 0 {
		step = -1
	}
	t := time.Date(from.Year, from.Month, from.Day, 12, 0, 0, 0, time.UTC)
	for changed := 0; changed != n; {
		next := t.Add(time.Duration(step) * 24 * time.Hour)
		if next.Month() != t.Month() {
			changed += step
		}
		t = next
	}
	for t.Day() != 1 { // to the beginning of the month that was reached
		t = t.Add(-24 * time.Hour)
	}
	for t.Day() != from.Day {
		next := t.Add(24 * time.Hour)
		if next.Month() != t.Month() {
			break
		}
		t = next
	}
	return vehicle.DateOf(t)
}

func TestAddMonthsAgreesWithWalkingDayByDay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// 1890 to 2110: two centuries that are no leap years, and one that is.
		from := vehicle.DateFromOrdinal(rapid.IntRange(-29000, 51000).Draw(t, "ordinal"))
		n := rapid.IntRange(-60, 60).Draw(t, "months")
		if got, want := from.AddMonths(n), walkMonths(from, n); got != want {
			t.Fatalf("%s + %d months = %s, want %s", from, n, got, want)
		}
	})
}

func TestOrdinalsAgreeWithTheTimePackageOnEveryDay(t *testing.T) {
	date := vehicle.MustDate(1, time.January, 1)
	for when := time.Date(1, 1, 1, 0, 0, 0, 0, time.UTC); when.Year() < 10000; when = when.Add(24 * time.Hour) {
		ordinal := int(when.Unix() / 86400)
		if vehicle.DateOf(when) != date || date.Ordinal() != ordinal || date.Weekday() != when.Weekday() ||
			vehicle.DateFromOrdinal(ordinal) != date {
			t.Fatalf("%s: ordinal %d, %s; the time package has %s, %d, %s",
				date, date.Ordinal(), date.Weekday(), when.Format(time.DateOnly), ordinal, when.Weekday())
		}
		date = date.AddDays(1)
	}
	if date != vehicle.MustDate(9999, time.December, 31) {
		t.Errorf("the last date is %s", date)
	}
}

func TestDaysAndMonthsBetweenDatesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := dates().Draw(t, "a"), dates().Draw(t, "b")
		if got := a.AddDays(a.DaysUntil(b)); got != b {
			t.Fatalf("%s + %d days = %s, want %s", a, a.DaysUntil(b), got, b)
		}
		if a.Before(b) != (a.DaysUntil(b) > 0) || a.After(b) != (a.DaysUntil(b) < 0) || (a.Compare(b) == 0) != (a == b) {
			t.Fatalf("%s and %s are not ordered as their ordinals", a, b)
		}
		n := a.MonthsUntil(b)
		if !a.After(b) {
			if a.AddMonths(n).After(b) || !a.AddMonths(n+1).After(b) {
				t.Fatalf("%s to %s is not %d whole months", a, b, n)
			}
		} else if a.AddMonths(n).Before(b) || !a.AddMonths(n-1).Before(b) {
			t.Fatalf("%s back to %s is not %d whole months", a, b, n)
		}
	})
}

func TestADayBeginsAtItsFirstMoment(t *testing.T) {
	for _, c := range []struct{ name, zone, day, want string }{
		// tz database: Chile's clocks go forward at 24:00, so the day begins at 01:00 (from memory).
		{"clocks forward at midnight", "America/Santiago", "2024-09-08", "2024-09-08T01:00:00-03:00"},
		// tz database: Cuba's clocks go back at 01:00 to 00:00, so midnight comes twice (from memory).
		{"clocks back over midnight", "America/Havana", "2024-11-03", "2024-11-03T00:00:00-04:00"},
		{"clocks back over midnight, east of Greenwich", "Asia/Amman", "2021-10-29", "2021-10-29T00:00:00+03:00"}, // likewise
		{"an ordinary day", "Europe/London", "2026-11-25", "2026-11-25T00:00:00Z"},
	} {
		zone, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		if got := day(t, c.day).Start(zone).Format(time.RFC3339); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

func BenchmarkAddMonths(b *testing.B) {
	d := vehicle.MustDate(2024, time.February, 29)
	for b.Loop() {
		d.AddMonths(12)
	}
}

func BenchmarkDaysUntil(b *testing.B) {
	d, e := vehicle.MustDate(2024, time.February, 29), vehicle.MustDate(2026, time.November, 25)
	for b.Loop() {
		d.DaysUntil(e)
	}
}

func TestAMomentMonthsBeforeIsOnTheSameDayAtTheSameTime(t *testing.T) {
	east := time.FixedZone("", 3600)
	for _, c := range []struct {
		name string
		t    time.Time
		n    int
		want string
	}{
		{"a year", time.Date(2026, time.November, 25, 12, 30, 1, 5, time.UTC), 12, "2025-11-25T12:30:01.000000005Z"},
		{"from a leap day", time.Date(2028, time.February, 29, 23, 59, 59, 0, time.UTC), 12, "2027-02-28T23:59:59Z"},
		{"to a shorter month", time.Date(2026, time.March, 31, 0, 0, 0, 0, time.UTC), 1, "2026-02-28T00:00:00Z"},
		{"by the day in UTC", time.Date(2026, time.March, 1, 0, 30, 0, 0, east), 12, "2025-02-28T23:30:00Z"},
		{"none", time.Date(2026, time.March, 1, 1, 0, 0, 0, east), 0, "2026-03-01T00:00:00Z"},
	} {
		if got := vehicle.MonthsBefore(c.t, c.n).Format(time.RFC3339Nano); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}
