// Package handclock gives tests a clock that they move by hand, while what they
// test reads it.
package handclock

import (
	"sync"
	"time"
)

// Clock stands still until it is moved.
type Clock struct {
	mu  sync.Mutex
	now time.Time
}

// At gives a clock that stands at a time.
func At(t time.Time) *Clock { return &Clock{now: t} }

// Now reads it.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

// Set moves it to a time.
func (c *Clock) Set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = t
}

// Move moves it on.
func (c *Clock) Move(by time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(by)
}
