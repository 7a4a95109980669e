package accessstore

import (
	"context"
	"fmt"
	"iter"
	"strings"
	"sync"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
)

// uses holds when keys last opened a door.
type uses struct {
	mu   sync.RWMutex
	last map[string]use
}

type use struct {
	at          time.Time
	modRevision int64
}

func newUses() *uses { return &uses{last: map[string]use{}} }

// Apply implements projection.Handler.
func (u *uses) Apply(events []projection.Event, _ int64) error {
	u.mu.Lock()
	defer u.mu.Unlock()
	for _, e := range events {
		id := strings.TrimPrefix(e.Key, usesPrefix)
		if err := put(u.last, id, e, &accessv1.KeyUse{}, func(p *accessv1.KeyUse) use {
			return use{p.GetLastUseTime().AsTime(), e.ModRevision}
		}); err != nil {
			return fmt.Errorf("the use of the key %s cannot be read: %w", id, err)
		}
	}
	return nil
}

// Known implements projection.Handler.
func (u *uses) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		u.mu.RLock()
		defer u.mu.RUnlock()
		for id, one := range u.last {
			if !yield(usesPrefix+id, one.modRevision) {
				return
			}
		}
	}
}

func (u *uses) get(id string) use {
	u.mu.RLock()
	defer u.mu.RUnlock()
	return u.last[id]
}

// LastUse gives when a key last opened a door, to the hour; zero for never.
func (s *Store) LastUse(id string) time.Time { return s.uses.get(id).at }

// usesAtOnce is how many uses one transaction writes.
const usesAtOnce = 100

// NoteUses keeps when keys were used, by identifier. What is kept never goes
// back, and what another process kept meanwhile is read again before it is
// written over. It gives the revision of the last write; 0 for none.
func (s *Store) NoteUses(ctx context.Context, at map[string]time.Time) (revision int64, err error) {
	for len(at) > 0 {
		t, part := kv.NewTxn(), []string{}
		for id, when := range at {
			kept := s.uses.get(id)
			if !when.After(kept.at) {
				delete(at, id)
				continue
			}
			key := usesPrefix + id
			t = t.Unchanged(key, kept.modRevision).Put(key, &accessv1.KeyUse{Key: accesswire.KeyName(id), LastUseTime: timestamppb.New(when)})
			if part = append(part, id); len(part) == usesAtOnce {
				break
			}
		}
		if len(part) == 0 {
			return revision, nil
		}
		done, err := s.kv.Commit(ctx, t)
		if fault.Is(err, fault.Aborted) {
			// Another gate's report came first: read it, and decide again.
			if err := s.reread(ctx, part); err != nil {
				return revision, err
			}
			continue
		}
		if err != nil {
			return revision, err
		}
		revision = done.Revision
		for _, id := range part {
			delete(at, id)
		}
	}
	return revision, nil
}

// reread waits until what is in memory is no older than what is kept now.
func (s *Store) reread(ctx context.Context, ids []string) error {
	for _, id := range ids {
		if _, err := s.asOf(ctx, usesPrefix+id, &accessv1.KeyUse{}); err != nil {
			return err
		}
	}
	return nil
}
