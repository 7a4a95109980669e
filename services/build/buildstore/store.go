package buildstore

import (
	"context"
	"log/slog"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/staging"
)

// Store reads from memory and writes to etcd. It is safe for concurrent use.
type Store struct {
	kv       *kv.Store
	memory   *memory
	follower *projection.Follower
	found    found
}

// Open loads everything and follows it until Close. ctx bounds the following
// too. changed, which may be nil, is told from then on what changed.
func Open(ctx context.Context, store *kv.Store, changed Changed, logger *slog.Logger) (*Store, error) {
	s := &Store{kv: store, memory: newMemory(changed)}
	var err error
	s.follower, err = projection.Start(ctx, store.Client(), prefix, s.memory, logger)
	if err != nil {
		return nil, err
	}
	return s, nil
}

// Wait returns nil once reads include the revision.
func (s *Store) Wait(ctx context.Context, revision int64) error {
	return s.follower.Wait(ctx, revision)
}

// CatchUp waits until reads include everything written before the call, by
// whatever process.
func (s *Store) CatchUp(ctx context.Context) error {
	now, err := s.kv.Client().Get(ctx, prefix)
	if err != nil {
		return outOfReach(err)
	}
	return s.follower.Wait(ctx, now.Header.Revision)
}

func outOfReach(err error) error {
	return &fault.Error{Kind: fault.Unavailable, Reason: "STORE_OUT_OF_REACH", Message: "the store gave no answer", Cause: err}
}

// Staging makes the redo log of imports into this store.
func (s *Store) Staging(a staging.Applier) *staging.Log { return staging.New(s.kv, Service, a) }

// Close ends the following.
func (s *Store) Close() { s.follower.Close() }
