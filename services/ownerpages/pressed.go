package ownerpages

import (
	"sync"
	"time"
)

// pressedForms remembers when each form was first sent. A service knows a form
// that is sent twice, by a thumb that is not sure, only where it asks for the very
// same; and what somebody agreed to is kept with its moment.
type pressedForms struct {
	mu sync.Mutex
	at map[string]time.Time // by the identifier of the form and what it says
}

// Bounds of what is remembered. What is forgotten costs somebody who presses a
// second time the answer to the first, and nothing else.
const (
	mostPresses = 10_000
	pressesLast = time.Hour
)

func newPressedForms() *pressedForms { return &pressedForms{at: map[string]time.Time{}} }

// first gives when the form was sent first as it is filled in, which is now where it
// never was.
func (p *pressedForms) first(f form, now time.Time) time.Time {
	p.mu.Lock()
	defer p.mu.Unlock()
	press := second(f.request(), f.Encode())
	if at, again := p.at[press]; again {
		return at
	}
	if len(p.at) >= mostPresses {
		p.forget(now)
	}
	p.at[press] = now
	return now
}

// forget drops the old ones; where they are few, all.
func (p *pressedForms) forget(now time.Time) {
	for press, at := range p.at {
		if now.Sub(at) > pressesLast {
			delete(p.at, press)
		}
	}
	if len(p.at) > mostPresses/2 {
		clear(p.at)
	}
}
