package schedule_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

func TestAnItemThatKeepsItsCalendarCountsFromTheDayItWasDue(t *testing.T) {
	yearly := schedule.Item{ID: "A1", Every: limit(3000, 12), KeepCalendarDays: 30}
	for _, c := range []struct {
		name string
		done []string
		due  string
		says string
	}{
		{"on the day", []string{"2021-05-01"}, "2022-05-01", "12 months since it was last done on 1 May 2021"},
		{"three weeks early", []string{"2021-04-10"}, "2022-05-01", "12 months since it was due on 1 May 2021, near which it was done, on 10 April 2021"},
		{"thirty days late", []string{"2021-05-31"}, "2022-05-01", "since it was due on 1 May 2021"},
		{"thirty-one days late begins anew", []string{"2021-06-01"}, "2022-06-01", "since it was last done on 1 June 2021"},
		{"early every year does not creep", []string{"2021-04-10", "2022-04-10", "2023-04-10"}, "2024-05-01", "since it was due on 1 May 2023"},
		{"anew, and kept from there", []string{"2021-08-15", "2022-08-01"}, "2023-08-15", "since it was due on 15 August 2022"},
		{"the end of a month does not wear off", []string{"2021-05-31", "2022-05-31"}, "2023-05-01", "since it was due on 1 May 2022"},
	} {
		w := delivered(t, "2020-05-01", yearly)
		for _, d := range c.done {
			w.done(d, "A1")
		}
		s, st := w.status(c.done[len(c.done)-1], "A1")
		if got := st.TimeDueDate().String(); got != c.due {
			t.Errorf("%s: due %s, want %s", c.name, got, c.due)
		}
		if _, sentence := s.Explain(st); !strings.Contains(sentence, c.says) {
			t.Errorf("%s: the sentence does not say %q: %s", c.name, c.says, sentence)
		}
		if want := "A1." + c.done[len(c.done)-1]; st.Cycle("A1") != want {
			t.Errorf("%s: cycle %s, want %s", c.name, st.Cycle("A1"), want)
		}
	}
}

// checks.md O-23: the end of a month does not wear off, on whatever day near it
// the work is done, nor does the leap day.
func TestTheEndOfAMonthIsKept(t *testing.T) {
	for _, c := range []struct {
		delivered, done, due string
		months               int
	}{
		{"2026-01-31", "2026-02-28", "2026-03-31", 1},
		{"2026-01-31", "2026-02-26", "2026-03-31", 1},
		{"2020-02-29", "2023-02-28", "2024-02-29", 12},
	} {
		w := delivered(t, c.delivered, schedule.Item{ID: "A1", Every: limit(0, c.months), KeepCalendarDays: 10})
		for d := on(c.delivered).AddMonths(c.months); d.Before(on(c.done)); d = d.AddMonths(c.months) {
			w.done(d.String(), "A1")
		}
		if _, st := w.done(c.done, "A1").status(c.done, "A1"); st.TimeDueDate().String() != c.due {
			t.Errorf("%s, done on %s: due %v, want %s", c.delivered, c.done, st.TimeDueDate(), c.due)
		}
	}
}

func TestWhatWasJustDoneIsNeverOverdue(t *testing.T) {
	w := delivered(t, "2020-01-01", schedule.Item{ID: "A1", Every: limit(0, 1), KeepCalendarDays: 90})
	_, st := w.done("2020-04-15", "A1").status("2020-04-15", "A1")
	if st.TimeDueDate().String() != "2020-05-15" || st.State == schedule.Overdue {
		t.Errorf("ten weeks late: due %v, state %d", st.TimeDueDate(), st.State)
	}
}

// The second implementation keeps every due date that there ever was.
func TestKeptCalendarsAgreeWithAListOfAllDueDates(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		months, keep := rapid.SampledFrom([]int{1, 6, 12}).Draw(r, "months"), rapid.IntRange(1, 90).Draw(r, "keep")
		w := delivered(t, "2012-01-31", schedule.Item{ID: "A1", Every: limit(0, months), KeepCalendarDays: keep})
		var days []int
		for range rapid.IntRange(1, 8).Draw(r, "times") {
			days = append(days, rapid.IntRange(0, 3000).Draw(r, "day"))
		}
		for _, n := range days {
			w.done(w.Delivered.AddDays(n).String(), "A1")
		}
		slices.Sort(days)
		_, st := w.status(w.Delivered.AddDays(3000).String(), "A1")

		calendar, place := w.Delivered, 1 // due dates are calendar + place x months
		due := func() vehicle.Date { return vehicle.DateFromOrdinal(monthsLater(calendar.Ordinal(), place*months)) }
		for _, n := range slices.Compact(days) {
			d := w.Delivered.AddDays(n)
			most := min(keep, months*15)
			if off := d.Ordinal() - due().Ordinal(); off < -most || off > most {
				calendar, place = d, 0
			}
			place++
		}
		if got := st.TimeDueDate(); got != due() {
			r.Fatalf("due %v, want %v", got, due())
		}
	})
}
