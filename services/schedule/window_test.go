package schedule_test

import (
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/schedule"
)

func TestTheWindowOpensAtFiveSixthsAndClosesATenthAfter(t *testing.T) {
	for _, c := range []struct {
		name         string
		item         schedule.Item
		prepare      func(*world)
		from, latest string
	}{
		// 366 days to 2025-01-01: 305 of them, and 36 more.
		{"time", schedule.Item{ID: "A1", Every: limit(0, 12)}, func(*world) {}, "2024-11-01", "2025-02-06"},
		// 10 miles a day: 3,000 are over after 300 days, 2,500 after 250, 3,300 after 330.
		{"distance", schedule.Item{ID: "A1", Every: limit(3000, 0)}, func(w *world) {
			for i := range int64(17) {
				w.read(w.Delivered.AddDays(int(100*(i+1))).String(), miles(1000*(i+1)))
			}
		}, "2024-09-07", "2024-11-26"},
		{"an event leaves no time after", schedule.Item{ID: "A1", StartsOn: []schedule.EventStart{{Event: schedule.Wading, WithinDays: 30}}},
			func(w *world) { w.event("2024-06-01", schedule.Wading) }, "2024-06-01", "2024-07-01"},
	} {
		w := delivered(t, "2020-01-01", c.item).done("2024-01-01", "A1")
		c.prepare(w)
		s, st := w.status("2024-10-10", "A1")
		if got := s.Window(st); got.SensibleFrom.String() != c.from || got.Latest.String() != c.latest {
			t.Errorf("%s: from %v to %v, want %s to %s", c.name, got.SensibleFrom, got.Latest, c.from, c.latest)
		}
	}
}

func TestTheDueDateLiesInTheWindow(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		w := anyWorld(r, t)
		s, st := w.status(w.Delivered.AddDays(rapid.IntRange(0, 5500).Draw(r, "today")).String(), "A1")
		got, due := s.Window(st), st.DueDate()
		if due.IsZero() {
			return
		}
		if got.SensibleFrom.After(due) || !got.Latest.IsZero() && got.Latest.Before(due) {
			r.Fatalf("due %v outside the window from %v to %v", due, got.SensibleFrom, got.Latest)
		}
	})
}
