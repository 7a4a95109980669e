package schedulerpc

import "testing"

func TestTheHabitsOfThisYearAreTheLastToGo(t *testing.T) {
	years := map[int]*yearHabits{2026: {}, 2025: {}, 2014: {}}
	for _, want := range []int{2014, 2025, 2026} {
		got := farthest(years, 2026)
		if got != want {
			t.Errorf("%d goes, want %d", got, want)
		}
		delete(years, got)
	}
}
