package works

import (
	"sync"
	"time"

	"halfshaft/services/vehicle"
)

// ClockFrom gives a clock that stands at noon UTC of a day when it is made and
// goes on from there, for trying things out on a date.
func ClockFrom(day vehicle.Date) func() time.Time {
	return newSteppedClock(day.Start(time.UTC).Add(12 * time.Hour)).now
}

// steppedClock goes on from the moment that it was last set to. The demo steps
// through the hours of a day with it.
type steppedClock struct {
	mu    sync.Mutex
	from  time.Time
	began time.Time
}

func newSteppedClock(from time.Time) *steppedClock {
	return &steppedClock{from: from, began: time.Now()}
}

func (c *steppedClock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.from.Add(time.Since(c.began))
}

func (c *steppedClock) set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.from, c.began = t, time.Now()
}
