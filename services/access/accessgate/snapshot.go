package accessgate

import "sync"

// snapshot holds what a feed last told. When its stream begins anew, what was
// known stays good until the new snapshot is whole: nobody is shut out, and
// nobody let in, by half of one.
type snapshot[T any] struct {
	mu  sync.RWMutex
	now T

	fresh bool // the next answer begins a snapshot
	next  *T   // the one under way
}

// told is one answer of a feed.
type told interface {
	GetRevision() int64
	GetSynced() bool
}

// restart says that the next answer is the first of a stream.
func (s *snapshot[T]) restart() { s.fresh = true }

// take takes in one answer and gives what feed.Follow asks for. empty makes what
// a snapshot begins as; into puts the answer into what is known.
func (s *snapshot[T]) take(a told, empty func() T, into func(*T) error) (revision int64, synced, reset bool, err error) {
	reset, s.fresh = s.fresh, false
	s.mu.Lock()
	defer s.mu.Unlock()
	if reset {
		begun := empty()
		s.next = &begun
	}
	known := s.next
	if known == nil {
		known = &s.now
	}
	if err := into(known); err != nil {
		return 0, false, reset, err
	}
	if a.GetSynced() && s.next != nil {
		s.now, s.next = *s.next, nil
	}
	return a.GetRevision(), a.GetSynced(), reset, nil
}
