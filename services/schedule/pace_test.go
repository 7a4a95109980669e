package schedule_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/schedule"
)

// Otherwise the lay-up that one owner declares today would move the dates of
// every vehicle that is forecast as its fleet.
func TestWhatIsDeclaredForLaterTellsNothingOfTheFleet(t *testing.T) {
	young := func() *world {
		return delivered(t, "2025-01-10").read("2025-04-10", miles(900)).read("2025-07-10", miles(1700)).read("2025-10-20", miles(2900)).
			use(schedule.LaidUp, "2025-12-01", "")
	}
	before := young()
	past := before.PastUntil(on("2026-01-01"))
	if past.PerYear == 0 {
		t.Fatal("it has no pace of its own")
	}
	later := young()
	later.Uses[0].End = on("2026-03-01") // it came back, and is put away again
	later.use(schedule.LaidUp, "2026-06-01", "2026-08-31")
	if diff := cmp.Diff(past, later.PastUntil(on("2026-01-01"))); diff != "" {
		t.Error(diff)
	}
}
