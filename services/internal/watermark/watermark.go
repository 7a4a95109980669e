// Package watermark keeps how far something has come, as an etcd revision,
// and lets others wait for it.
package watermark

import (
	"context"
	"sync"
	"time"
)

// Mark is a revision that only rises. The zero value stands at revision 0.
// It is safe for concurrent use.
type Mark struct {
	mu       sync.Mutex
	revision int64
	err      error
	waiters  map[*waiter]struct{}
}

type waiter struct {
	revision int64
	reached  chan struct{}
}

// Advance raises the mark and wakes those who waited for it. A lower revision
// changes nothing.
func (m *Mark) Advance(revision int64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if revision > m.revision {
		m.revision = revision
		m.wake(func(w *waiter) bool { return w.revision <= revision })
	}
}

// Fail ends the mark: whoever waits beyond it gets err, now and later.
func (m *Mark) Fail(err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.err == nil {
		m.err = err
		m.wake(func(*waiter) bool { return true })
	}
}

func (m *Mark) wake(who func(*waiter) bool) {
	for w := range m.waiters {
		if who(w) {
			close(w.reached)
			delete(m.waiters, w)
		}
	}
}

// Revision gives the mark.
func (m *Mark) Revision() int64 {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.revision
}

// Err gives what Fail was called with, nil before.
func (m *Mark) Err() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.err
}

// Wait returns nil once the mark is at the revision or beyond; otherwise the
// error of ctx or of Fail.
func (m *Mark) Wait(ctx context.Context, revision int64) error {
	return m.WaitNudging(ctx, revision, nil)
}

// WaitNudging is Wait for a mark that may need a reminder: while it waits it
// calls nudge, first after some milliseconds, then ever more seldom.
func (m *Mark) WaitNudging(ctx context.Context, revision int64, nudge func()) error {
	w, err := m.enter(revision)
	if w == nil {
		return err
	}
	defer m.leave(w)
	var timer *time.Timer
	var due <-chan time.Time
	pause := firstNudge
	if nudge != nil {
		timer = time.NewTimer(pause)
		defer timer.Stop()
		due = timer.C
	}
	for {
		select {
		case <-w.reached:
			return m.result(revision)
		case <-ctx.Done():
			return ctx.Err()
		case <-due:
			nudge()
			pause = min(2*pause, lastNudge)
			timer.Reset(pause)
		}
	}
}

// An event usually arrives within a millisecond or two of its commit, so a
// nudge after five is seldom needed and never felt.
const (
	firstNudge = 5 * time.Millisecond
	lastNudge  = time.Second
)

// enter gives a waiter, or nil and the result when there is nothing to wait
// for.
func (m *Mark) enter(revision int64) (*waiter, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.revision >= revision {
		return nil, nil
	}
	if m.err != nil {
		return nil, m.err
	}
	w := &waiter{revision, make(chan struct{})}
	if m.waiters == nil {
		m.waiters = map[*waiter]struct{}{}
	}
	m.waiters[w] = struct{}{}
	return w, nil
}

func (m *Mark) leave(w *waiter) {
	m.mu.Lock()
	defer m.mu.Unlock()
	delete(m.waiters, w)
}

func (m *Mark) result(revision int64) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.revision >= revision {
		return nil
	}
	return m.err
}
