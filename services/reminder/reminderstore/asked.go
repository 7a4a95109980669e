package reminderstore

import (
	"cmp"
	"context"
	"maps"
	"slices"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
)

// Asked gives a sign whenever a message that somebody asked for was claimed, by
// whatever process: whoever sends need not wait for the next pass. Signs that
// nobody takes become one.
func (s *Store) Asked() <-chan struct{} { return s.state.asked }

// ClaimOnce makes one notice that its name makes the only one of its kind, whoever
// makes it; AlreadyExists where it is there.
func (s *Store) ClaimOnce(ctx context.Context, n reminder.Notice, sealed Sealed) error {
	r, err := s.kv.Commit(ctx, sealed.put(kv.NewTxn(), n))
	if err != nil {
		return err
	}
	return s.settle(ctx, r.Revision)
}

// ClaimAsked makes the notices that one request asks for, with their sealed
// messages and claims, all or none, and remembers the answer under the request.
// No fence guards them: no pass selects what somebody asked for, and the names of
// the claims hold the request. replayed says that answer was filled with what was
// answered before, and that nothing was made.
func (s *Store) ClaimAsked(ctx context.Context, q Request, all []reminder.Notice, sealed []Sealed, answer proto.Message) (replayed bool, err error) {
	t := kv.NewTxn()
	for i, n := range all {
		sealed[i].put(t, n)
	}
	r, err := s.kv.Commit(ctx, t.Once(service, q.ID, q.Payload, answer))
	switch {
	case err != nil:
		return false, err
	case r.Replayed:
		return true, proto.Unmarshal(r.Answer, answer)
	}
	return false, s.settle(ctx, r.Revision)
}

// Astray gives the notices of handbooks that failed where another way was left, the
// oldest first: no pass selects what they tell.
func (s *Store) Astray() []Kept {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	return slices.SortedFunc(maps.Values(s.state.astray), func(a, b Kept) int {
		return cmp.Or(a.Claimed.Compare(b.Claimed), cmp.Compare(a.ID, b.ID))
	})
}
