package partsstore

import (
	"context"
	"iter"
	"log/slog"
	"sync"

	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// Store is the catalogue of one process. It is safe for concurrent use.
type Store struct {
	kv       *kv.Store
	follower *projection.Follower

	compiler vehicle.PredicateCompiler

	mu        sync.RWMutex
	catalogue *parts.Catalogue
	version   int64 // counts what was applied
}

// Open loads the catalogue and follows it until Close, or until ctx is done.
// The compiler is for the expressions in it.
func Open(ctx context.Context, store *kv.Store, compiler vehicle.PredicateCompiler, logger *slog.Logger) (*Store, error) {
	s := &Store{kv: store, compiler: compiler}
	s.catalogue = s.blank()
	follower, err := projection.Start(ctx, store.Client(), kv.Prefix(Service), s, logger)
	if err != nil {
		return nil, err
	}
	s.follower = follower
	return s, nil
}

// Wait returns nil once the catalogue includes the revision.
func (s *Store) Wait(ctx context.Context, revision int64) error {
	return s.follower.Wait(ctx, revision)
}

// Close ends the following.
func (s *Store) Close() { s.follower.Close() }

// Read gives the sealed catalogue to f; it must not be kept, but what it gives
// out may be.
func (s *Store) Read(f func(c *parts.Catalogue)) {
	s.ReadVersion(func(c *parts.Catalogue, _ int64) { f(c) })
}

// ReadVersion is Read, with a number that changes whenever the catalogue does.
func (s *Store) ReadVersion(f func(c *parts.Catalogue, version int64)) {
	s.mu.RLock()
	for !s.catalogue.Sealed() {
		s.mu.RUnlock()
		s.mu.Lock()
		s.catalogue.Seal()
		s.mu.Unlock()
		s.mu.RLock()
	}
	defer s.mu.RUnlock()
	f(s.catalogue, s.version)
}

// Apply implements projection.Handler.
func (s *Store) Apply(events []projection.Event, _ int64) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.version++
	for _, e := range events {
		if err := s.apply(e); err != nil {
			return err
		}
	}
	return nil
}

// Known implements projection.Handler.
func (s *Store) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		s.mu.RLock()
		defer s.mu.RUnlock()
		for _, k := range kinds {
			if !k.known(s.catalogue, yield) {
				return
			}
		}
	}
}

// apply takes in one event; a key of a later version of the program is let
// pass.
func (s *Store) apply(e projection.Event) error {
	for _, k := range kinds {
		if mine, err := k.apply(s.catalogue, e); mine {
			return err
		}
	}
	return nil
}

// blank makes an empty catalogue that evaluates expressions as this one does.
func (s *Store) blank() *parts.Catalogue {
	c := parts.NewCatalogue()
	c.Expressions(s.compiler)
	return c
}
