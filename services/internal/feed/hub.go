// Package feed is both ends of a gRPC watch by which one service follows
// another's state: the server tells which things changed and the follower
// gets them as they are now, however many changes lay between. A slow
// follower costs the memory of the names of what it has not seen, no more.
//
// A stream begins with everything there is, then brings changes:
//
//	sub := hub.Subscribe()
//	defer sub.Close()
//	// send all things, the last message marked as synced, with the
//	// projection's revision taken before the first was read
//	for {
//		keys, revision, err := sub.Next(ctx)
//		// send the things of those names as they are now, or the
//		// revision alone when there are none
//	}
package feed

import (
	"context"
	"errors"
	"sync"
)

// Hub spreads the news of changed things, by key, to its subscribers. It is
// safe for concurrent use.
type Hub[K comparable] struct {
	mu       sync.Mutex
	subs     map[*Subscription[K]]struct{}
	revision int64
}

// NewHub makes a hub without subscribers.
func NewHub[K comparable]() *Hub[K] {
	return &Hub[K]{subs: map[*Subscription[K]]struct{}{}}
}

// Publish says that these things changed and that the state now includes the
// revision. It never blocks. Call it after the state can be read, with no
// keys when only the revision moved on.
func (h *Hub[K]) Publish(keys []K, revision int64) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.revision = max(h.revision, revision)
	for s := range h.subs {
		s.add(keys, h.revision)
	}
}

// Subscribe begins a subscription: it gets what is published from now on.
// Take the first full snapshot of the state after subscribing, not before.
func (h *Hub[K]) Subscribe() *Subscription[K] {
	s := &Subscription[K]{hub: h, dirty: map[K]struct{}{}, news: make(chan struct{}, 1)}
	h.mu.Lock()
	defer h.mu.Unlock()
	s.told = h.revision
	s.revision = h.revision
	h.subs[s] = struct{}{}
	return s
}

// Subscription is one follower's list of things it has not seen. Next is for
// one goroutine.
type Subscription[K comparable] struct {
	hub  *Hub[K]
	news chan struct{}

	mu       sync.Mutex
	dirty    map[K]struct{}
	revision int64 // of the newest news
	told     int64 // what Next gave last
	closed   bool
}

// ErrClosed is what Next returns after Close.
var ErrClosed = errors.New("the subscription is closed")

func (s *Subscription[K]) add(keys []K, revision int64) {
	s.mu.Lock()
	for _, k := range keys {
		s.dirty[k] = struct{}{}
	}
	s.revision = revision
	s.mu.Unlock()
	s.ring()
}

func (s *Subscription[K]) ring() {
	select {
	case s.news <- struct{}{}:
	default: // it is ringing already
	}
}

// Next waits for news and gives the keys of all things that changed since the
// last call, each once and in no order, and the revision their present state
// includes. Keys is empty when only the revision moved on.
func (s *Subscription[K]) Next(ctx context.Context) (keys []K, revision int64, err error) {
	for {
		if keys, revision, ok, err := s.take(); ok || err != nil {
			return keys, revision, err
		}
		select {
		case <-s.news:
		case <-ctx.Done():
			return nil, 0, ctx.Err()
		}
	}
}

func (s *Subscription[K]) take() (keys []K, revision int64, ok bool, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, 0, false, ErrClosed
	}
	if len(s.dirty) == 0 && s.revision <= s.told {
		return nil, 0, false, nil
	}
	keys = make([]K, 0, len(s.dirty))
	for k := range s.dirty {
		keys = append(keys, k)
	}
	// A map keeps its size for ever; a new one gives a burst's memory back.
	s.dirty = map[K]struct{}{}
	s.told = s.revision
	return keys, s.revision, true, nil
}

// Close ends the subscription; Next returns ErrClosed from then on.
func (s *Subscription[K]) Close() {
	s.hub.mu.Lock()
	delete(s.hub.subs, s)
	s.hub.mu.Unlock()
	s.mu.Lock()
	s.closed = true
	s.mu.Unlock()
	s.ring()
}
