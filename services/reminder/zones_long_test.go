//go:build long

package reminder

import (
	"testing"
	"time"

	"halfshaft/services/internal/zonetest"
)

func TestLongEveryDayOfThirtyYearsInEveryZoneHasATickWithinTheHours(t *testing.T) {
	from, to := time.Date(2005, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(2035, 1, 1, 0, 0, 0, 0, time.UTC)
	zones, names := zonetest.All(t)
	days := 0
	for _, zone := range zones {
		days += checkHours(t, zone, from, to)
	}
	t.Logf("%d zones of %d names, %d local days, each with a quarter-hour within 9 to 18 and none used outside", len(zones), names, days)
}
