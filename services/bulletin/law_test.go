package bulletin

import (
	"strings"
	"testing"

	"halfshaft/services/vehicle"
)

func on(text string) vehicle.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

func TestDaysThatALawCounts(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want vehicle.Date
	}{
		// 49 CFR 577.7(a)(1), wording not seen; the days are arithmetic
		{"letters after a report of 9 March 2026", NotifyBy(on("2026-03-09")), on("2026-05-08")},
		{"letters over the turn of the year, to a leap day", NotifyBy(on("2027-12-31")), on("2028-02-29")},
		{"no report", NotifyBy(vehicle.Date{}), vehicle.Date{}},
		// 49 U.S.C. 30120(g)(1), wording not seen
		{"free remedy for what was bought on 1 June 2026", FreeRemedyUntil(on("2026-06-01")), on("2041-06-01")},
		{"for what was bought on a leap day", FreeRemedyUntil(on("2028-02-29")), on("2043-02-28")},
		// 49 CFR 573.6(b), five working days, wording not seen; 9 March 2026 is a Monday
		{"a report after a Monday", ReportBy(on("2026-03-09"), nil), on("2026-03-16")},
		{"a report after a Saturday", ReportBy(on("2026-03-14"), nil), on("2026-03-20")},
		{"a report over a holiday", ReportBy(on("2026-12-23"), []vehicle.Date{on("2026-12-25")}), on("2026-12-31")},
		{"no determination", ReportBy(vehicle.Date{}, nil), vehicle.Date{}},
		// 49 CFR 573.7(d): 30 April, 30 July, 30 October, 30 January (from memory)
		{"the first quarter", QuarterReportBy(Quarter{2026, 1}), on("2026-04-30")},
		{"the second", QuarterReportBy(Quarter{2026, 2}), on("2026-07-30")},
		{"the third", QuarterReportBy(Quarter{2026, 3}), on("2026-10-30")},
		{"the last", QuarterReportBy(Quarter{2026, 4}), on("2027-01-30")},
	} {
		if c.got != c.want {
			t.Errorf("%s: got %v, want %v", c.name, c.got, c.want)
		}
	}
	for _, word := range []string{"example", "Counsel and local law go first", "manufacturer is for counsel"} {
		if !strings.Contains(LegalNote, word) {
			t.Errorf("the note does not say %q", word)
		}
	}
}

func TestQuartersAreReadAndCounted(t *testing.T) {
	for d := on("2023-01-01"); d.Before(on("2026-01-01")); d = d.AddDays(1) {
		q := QuarterOf(d)
		again, err := ParseQuarter(q.String())
		if err != nil || again != q || d.Before(q.First()) || d.After(q.Last()) || q.Last().AddDays(1) != q.Next().First() {
			t.Fatalf("%v lies in %v, %v to %v, read as %v, %v", d, q, q.First(), q.Last(), again, err)
		}
	}
	for _, text := range []string{"", "2026-Q5", "2026-Q0", "2026Q1", "26-Q1", "2026-q1", "0000-Q1", "2026-Q1 "} {
		if _, err := ParseQuarter(text); err == nil {
			t.Errorf("%q was read", text)
		}
	}
}
