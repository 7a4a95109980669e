package works

import (
	"time"

	"halfshaft/services/vehicle"
)

// ClockFrom gives a clock that stands at noon UTC of a day when it is made and
// goes on from there: for the demo, and for trying things out on a date.
func ClockFrom(day vehicle.Date) func() time.Time {
	noon := time.Date(day.Year, day.Month, day.Day, 12, 0, 0, 0, time.UTC)
	began := time.Now()
	return func() time.Time { return noon.Add(time.Since(began)) }
}
