package partsstore

import (
	"context"
	"fmt"
	"iter"
	"log/slog"
	"sync"

	"google.golang.org/protobuf/proto"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/parts"
	"halfshaft/services/parts/partswire"
)

// Store is the catalogue of one process. It is safe for concurrent use.
type Store struct {
	kv       *kv.Store
	follower *projection.Follower

	mu        sync.RWMutex
	catalogue *parts.Catalogue
}

// Open loads the catalogue and follows it until Close, or until ctx is done.
func Open(ctx context.Context, store *kv.Store, logger *slog.Logger) (*Store, error) {
	s := &Store{kv: store, catalogue: parts.NewCatalogue()}
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
	s.mu.RLock()
	for !s.catalogue.Sealed() {
		s.mu.RUnlock()
		s.mu.Lock()
		s.catalogue.Seal()
		s.mu.Unlock()
		s.mu.RLock()
	}
	defer s.mu.RUnlock()
	f(s.catalogue)
}

// Apply implements projection.Handler.
func (s *Store) Apply(events []projection.Event, _ int64) error {
	s.mu.Lock()
	defer s.mu.Unlock()
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
		for p := range s.catalogue.Parts() {
			if !yield(partKey(p.Number), p.Revision) {
				return
			}
		}
		for r := range s.catalogue.Supersessions() {
			if !yield(supersessionKey(r.ID), r.Revision) {
				return
			}
		}
	}
}

func (s *Store) apply(e projection.Event) error {
	if number, ok := partNumber(e.Key); ok {
		if e.Deleted {
			s.catalogue.Remove(number)
			return nil
		}
		p, err := readPart(number, e.Value)
		if err != nil {
			return err
		}
		p.Revision = e.ModRevision
		s.catalogue.Put(p)
		return nil
	}
	if id, ok := supersessionID(e.Key); ok {
		if e.Deleted {
			s.catalogue.RemoveSupersession(id)
			return nil
		}
		r, err := readSupersession(id, e.Value)
		if err != nil {
			return err
		}
		r.Revision = e.ModRevision
		s.catalogue.PutSupersession(r)
	}
	return nil // a key of a later version of the program
}

func readPart(number string, value []byte) (parts.Part, error) {
	var m partsv1.Part
	if err := proto.Unmarshal(value, &m); err != nil {
		return parts.Part{}, fmt.Errorf("the part %s cannot be read: %w", number, err)
	}
	m.Name = parts.PartName(number)
	p, err := partswire.Part(&m)
	if err != nil {
		return parts.Part{}, fmt.Errorf("the part %s cannot be read: %w", number, err)
	}
	return p, nil
}

func readSupersession(id string, value []byte) (parts.Supersession, error) {
	var m partsv1.Supersession
	if err := proto.Unmarshal(value, &m); err != nil {
		return parts.Supersession{}, fmt.Errorf("the supersession %s cannot be read: %w", id, err)
	}
	m.Name = parts.SupersessionName(id)
	s, err := partswire.Supersession(&m)
	if err != nil {
		return parts.Supersession{}, fmt.Errorf("the supersession %s cannot be read: %w", id, err)
	}
	return s, nil
}

// PartProto writes a part of the store with its etag.
func PartProto(p *parts.Part) *partsv1.Part {
	m := partswire.PartProto(p)
	m.Etag = kv.Etag(p.Revision)
	return m
}

// SupersessionProto writes a supersession of the store with its etag.
func SupersessionProto(s *parts.Supersession) *partsv1.Supersession {
	m := partswire.SupersessionProto(s)
	m.Etag = kv.Etag(s.Revision)
	return m
}
