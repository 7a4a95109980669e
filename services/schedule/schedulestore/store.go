package schedulestore

import (
	"context"
	"log/slog"
	"maps"
	"slices"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/fault"
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
		return &fault.Error{Kind: fault.Unavailable, Reason: "STORE_OUT_OF_REACH", Message: "the store gave no answer", Cause: err}
	}
	return s.follower.Wait(ctx, now.Header.Revision)
}

// Revision gives the revision up to which reads are complete.
func (s *Store) Revision() int64 { return s.follower.Revision() }

// Staging makes the redo log of imports into this store.
func (s *Store) Staging(a staging.Applier) *staging.Log { return staging.New(s.kv, Service, a) }

// Close ends the following.
func (s *Store) Close() { s.follower.Close() }

// History gives what happened to a vehicle; an empty one when nothing did.
func (s *Store) History(serial vehicle.Serial) *History {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	if h := s.memory.vehicles[serial]; h != nil {
		return h
	}
	return none
}

// none is the history of every vehicle without one; it is never altered.
var none = &History{}

// Versions gives the versions of a programme in order; not to be changed.
func (s *Store) Versions(programme string) []Version {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return s.memory.programmes[programme]
}

// Programmes gives the identifiers of all programmes in order.
func (s *Store) Programmes() []string {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return slices.Sorted(maps.Keys(s.memory.programmes))
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

// Commit writes records in one transaction: AlreadyExists when a new one is
// there, Aborted CONFLICT when a replaced one changed since it was read. Reads
// include it when it returns.
func (s *Store) Commit(ctx context.Context, r Request, records ...Record) (kv.Result, error) {
	t := kv.NewTxn().Once(Service, r.ID, r.Payload, r.Answer)
	for _, rec := range records {
		if rec.Was == 0 {
			t.Absent(rec.Key)
		} else {
			t.Unchanged(rec.Key, rec.Was)
		}
		t.Put(rec.Key, nameless(rec.Message))
	}
	result, err := s.kv.Commit(ctx, t)
	if err != nil {
		return kv.Result{}, err
	}
	return result, s.Wait(ctx, result.Revision)
}

// Put writes the records of a chunk of an import, whatever stands there: the
// import was looked over before.
func (s *Store) Put(ctx context.Context, records []Record) error {
	for chunk := range slices.Chunk(records, kv.MaxOps) {
		t := kv.NewTxn()
		for _, rec := range chunk {
			t.Put(rec.Key, nameless(rec.Message))
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
