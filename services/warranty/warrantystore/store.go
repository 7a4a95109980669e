package warrantystore

import (
	"context"
	"log/slog"
	"maps"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/staging"
	"halfshaft/services/vehicle"
)

// Store reads from memory and writes to etcd. It is safe for concurrent use.
type Store struct {
	kv       *kv.Store
	memory   *memory
	follower *projection.Follower
}

// Open loads everything and follows it until Close. ctx bounds the following
// too.
func Open(ctx context.Context, store *kv.Store, logger *slog.Logger) (*Store, error) {
	s := &Store{kv: store, memory: newMemory()}
	var err error
	if s.follower, err = projection.Start(ctx, store.Client(), prefix, s.memory, logger); err != nil {
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
		return kv.OutOfReach(err)
	}
	return s.follower.Wait(ctx, now.Header.Revision)
}

// Revision is that of the last write that reads include.
func (s *Store) Revision() int64 { return s.follower.Revision() }

// Staging makes the redo log of imports into this store.
func (s *Store) Staging(a staging.Applier) *staging.Log { return staging.New(s.kv, Service, a) }

// Put writes the records of a chunk of an import, which are new: the import was
// looked over before. One that is there is an error.
func (s *Store) Put(ctx context.Context, records []Record) error {
	for chunk := range slices.Chunk(records, kv.MaxOps) {
		t := kv.NewTxn()
		for _, rec := range chunk {
			t.Absent(rec.Key).Put(rec.Key, stored(rec.Message))
		}
		result, err := s.kv.Commit(ctx, t)
		if err != nil {
			return err
		}
		if err := s.Wait(ctx, result.Revision); err != nil {
			return err
		}
	}
	return nil
}

// Same reports whether a record says what one that is kept says, without what is
// worked out anew.
func Same(kept, given proto.Message) bool {
	a, b := stored(kept), stored(given)
	for _, m := range []proto.Message{a, b} { // where it stands is its name
		if f := m.ProtoReflect().Descriptor().Fields().ByName("name"); f != nil {
			m.ProtoReflect().Clear(f)
		}
	}
	return proto.Equal(a, b)
}

// Close ends the following.
func (s *Store) Close() { s.follower.Close() }

// Vehicle gives what is kept of a vehicle; an empty one when nothing is.
func (s *Store) Vehicle(serial vehicle.Serial) *Vehicle {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	if v := s.memory.vehicles[serial]; v != nil {
		return v
	}
	return none
}

// none is what is kept of every vehicle without anything; it is never altered.
var none = &Vehicle{}

// Serials gives in order the vehicles of which something is kept.
func (s *Store) Serials() []vehicle.Serial {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return slices.Sorted(maps.Keys(s.memory.vehicles))
}

// Terms gives all versions of all terms, by term and then by number; not to be
// changed.
func (s *Store) Terms() []Version {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return s.memory.terms
}

// Request makes a write happen once: see kv.Txn.Once. The zero value asks for
// nothing.
type Request struct {
	ID      string
	Payload proto.Message
	Answer  proto.Message
}

// Lookup gives the first answer of a request that was seen before.
func (s *Store) Lookup(ctx context.Context, requestID string, payload proto.Message) (kv.Result, bool, error) {
	return s.kv.Lookup(ctx, Service, requestID, payload)
}

// Record is a message and where it goes. Was is the revision it replaces, 0 for
// a new one.
type Record struct {
	Key     string
	Message proto.Message
	Was     int64
}

// Commit writes a record and its request in one transaction: AlreadyExists when
// a new one is there, Aborted CONFLICT when a replaced one changed since it was
// read. Reads include it when it returns.
func (s *Store) Commit(ctx context.Context, r Request, rec Record) (kv.Result, error) {
	t := kv.NewTxn().Once(Service, r.ID, r.Payload, r.Answer)
	if rec.Was == 0 {
		t.Absent(rec.Key)
	} else {
		t.Unchanged(rec.Key, rec.Was)
	}
	result, err := s.kv.Commit(ctx, t.Put(rec.Key, stored(rec.Message)))
	if err != nil {
		return kv.Result{}, err
	}
	return result, s.Wait(ctx, result.Revision)
}

// stored gives a record without what its key says and what is worked out anew.
func stored(record proto.Message) proto.Message {
	kept := proto.Clone(record)
	m := kept.ProtoReflect()
	computed := []protoreflect.Name{"etag", "totals", "answer_by_date"}
	if m.Descriptor().Name() != "WarrantyTerm" { // whose name is read with it
		computed = append(computed, "name")
	}
	for _, name := range computed {
		if field := m.Descriptor().Fields().ByName(name); field != nil {
			m.Clear(field)
		}
	}
	return kept
}

// lastSegment is what stands behind the last slash of a name.
func lastSegment(name string) string { return name[strings.LastIndexByte(name, '/')+1:] }
