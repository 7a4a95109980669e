package accessstore

import (
	"context"
	"fmt"
	"iter"
	"log/slog"
	"maps"
	"slices"
	"strings"
	"sync"

	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/internal/feed"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
)

// Record is a key as it stands at a revision.
type Record struct {
	access.Key
	ModRevision int64
}

// Store holds everything in memory, as etcd last told, and writes what is new.
// It is safe for concurrent use.
type Store struct {
	kv       *kv.Store
	door     *door
	uses     *uses
	follower *projection.Follower
	hub      *feed.Hub[string] // which keys change

	mu   sync.RWMutex
	keys map[string]Record
}

// Open loads everything and follows it until ctx is done or Close is called.
func Open(ctx context.Context, store *kv.Store, logger *slog.Logger) (*Store, error) {
	s := &Store{kv: store, door: newDoor(), uses: newUses(), hub: feed.NewHub[string](), keys: map[string]Record{}}
	var err error
	s.follower, err = projection.Start(ctx, store.Client(), kv.Prefix(Service), shares{{keysPrefix, s}, {doorPrefix, s.door}, {usesPrefix, s.uses}}, logger)
	if err != nil {
		return nil, err
	}
	return s, nil
}

// Apply implements projection.Handler.
func (s *Store) Apply(events []projection.Event, revision int64) error {
	s.mu.Lock()
	changed := make([]string, 0, len(events))
	for _, e := range events {
		id := strings.TrimPrefix(e.Key, keysPrefix)
		changed = append(changed, id)
		if err := put(s.keys, id, e, &accessv1.Key{}, func(k *accessv1.Key) Record {
			return Record{accesswire.Key(k), e.ModRevision}
		}); err != nil {
			s.mu.Unlock()
			return fmt.Errorf("the key %s cannot be read: %w", id, err)
		}
	}
	s.mu.Unlock()
	s.hub.Publish(changed, revision)
	return nil
}

// Known implements projection.Handler.
func (s *Store) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		s.mu.RLock()
		defer s.mu.RUnlock()
		for id, k := range s.keys {
			if !yield(keysPrefix+id, k.ModRevision) {
				return
			}
		}
	}
}

// Get gives one key.
func (s *Store) Get(id string) (Record, bool) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	r, ok := s.keys[id]
	return r, ok
}

// IDs gives the identifiers of all keys, sorted.
func (s *Store) IDs() []string {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return slices.Sorted(maps.Keys(s.keys))
}

// KeysOf gives the keys of an account, sorted by identifier.
func (s *Store) KeysOf(account string) []Record {
	return s.where(func(k Record) bool { return k.Account == account })
}

// KeysOfOwners gives the keys of owners, sorted by identifier.
func (s *Store) KeysOfOwners() []Record {
	return s.where(func(k Record) bool { return k.Person != "" })
}

// Near gives what a key replaces and what replaces it.
func (s *Store) Near(of access.Key) []access.Key {
	var near []access.Key
	for _, k := range s.where(func(k Record) bool { return k.Rotates == of.ID || k.ID == of.Rotates }) {
		near = append(near, k.Key)
	}
	return near
}

func (s *Store) where(is func(Record) bool) []Record {
	s.mu.RLock()
	defer s.mu.RUnlock()
	var out []Record
	for _, k := range s.keys {
		if is(k) {
			out = append(out, k)
		}
	}
	slices.SortFunc(out, func(a, b Record) int { return strings.Compare(a.ID, b.ID) })
	return out
}

// Create writes a new key, if what was asked of others on the way still holds.
// With a request id that was answered before, the result is a replay and
// nothing is written.
func (s *Store) Create(ctx context.Context, k access.Key, requestID string, payload proto.Message, holds ...Condition) (kv.Result, error) {
	key := keysPrefix + k.ID
	return s.kv.Commit(ctx, under(holds, kv.NewTxn().Absent(key).Put(key, accesswire.KeyWithDigest(k)).
		Once(Service, requestID, payload, accesswire.KeyProto(k))))
}

// CreateFirst writes the first administrator's key, once in the life of a
// store: AlreadyExists when it was made before, by whatever process.
func (s *Store) CreateFirst(ctx context.Context, k access.Key) (kv.Result, error) {
	key := keysPrefix + k.ID
	return s.kv.Commit(ctx, kv.NewTxn().Absent(firstKey).Absent(key).
		PutBytes(firstKey, []byte(k.ID)).Put(key, accesswire.KeyWithDigest(k)))
}

// Replace writes a changed key over the one read at modRevision.
func (s *Store) Replace(ctx context.Context, k access.Key, modRevision int64, requestID string, payload proto.Message) (kv.Result, error) {
	key := keysPrefix + k.ID
	return s.kv.Commit(ctx, kv.NewTxn().Unchanged(key, modRevision).Put(key, accesswire.KeyWithDigest(k)).
		Once(Service, requestID, payload, accesswire.KeyProto(k)))
}

// Rotate writes a key that ends, over the one read at modRevision, and its
// successor.
func (s *Store) Rotate(ctx context.Context, older access.Key, modRevision int64, newer access.Key, requestID string, payload proto.Message, holds ...Condition) (kv.Result, error) {
	was, becomes := keysPrefix+older.ID, keysPrefix+newer.ID
	return s.kv.Commit(ctx, under(holds, kv.NewTxn().Unchanged(was, modRevision).Absent(becomes).
		Put(was, accesswire.KeyWithDigest(older)).Put(becomes, accesswire.KeyWithDigest(newer)).
		Once(Service, requestID, payload, accesswire.KeyProto(newer))))
}

// Answered gives the answer of a request that was answered before.
func (s *Store) Answered(ctx context.Context, requestID string, payload proto.Message) (kv.Result, bool, error) {
	return s.kv.Lookup(ctx, Service, requestID, payload)
}

// Subscribe begins to tell which keys change.
func (s *Store) Subscribe() *feed.Subscription[string] { return s.hub.Subscribe() }

// Revision gives up to where everything in memory is known to be whole.
func (s *Store) Revision() int64 { return s.follower.Revision() }

// Follower is what waits for everything in memory to reach a revision.
func (s *Store) Follower() *projection.Follower { return s.follower }

// Wait returns when everything in memory has reached a revision.
func (s *Store) Wait(ctx context.Context, revision int64) error {
	return s.follower.Wait(ctx, revision)
}

// Close ends the following.
func (s *Store) Close() { s.follower.Close() }
