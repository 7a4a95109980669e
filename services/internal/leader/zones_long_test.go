//go:build long

package leader

import (
	"testing"
	"time"

	"halfshaft/services/internal/zonetest"
)

func TestLongThirtyYearsOfTicksInAllZonesLaunchEachScheduledTimeOnce(t *testing.T) {
	from, to := time.Date(2005, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(2035, 1, 1, 0, 0, 0, 0, time.UTC)
	zones, names := zonetest.All(t)
	launches, clockChanges := 0, 0
	for _, zone := range zones {
		launches += checkJobs(t, zone, from, to)
		clockChanges += len(changes(zone, from, to))
	}
	t.Logf("%d zones of %d names, %d changes of the clock in 30 years, %d launches: each scheduled time once", len(zones), names, clockChanges, launches)
	// The job of every quarter of an hour over all of the years, by some clocks.
	scheduled := minutes(from, to, quarters.is)
	for _, zone := range zonetest.Some(t) {
		began := time.Now()
		if err := once(drive(t, quarters.spec, zone, scheduled), scheduled); err != nil {
			t.Errorf("%s by the clock of %s: %v", quarters.spec, zone, err)
		}
		t.Logf("%s by the clock of %s: %d scheduled times, each once; %s", quarters.spec, zone, len(scheduled), time.Since(began).Round(time.Second))
	}
}
