// Package ownerstore keeps people, sealed, and their ties to vehicles.
//
// Keys in etcd, and nobody else's:
//
//	/halfshaft/v1/owner/people/<person>           halfshaft.owner.v1.Person, sealed under the person's key
//	/halfshaft/v1/owner/person-keys/<person>      the person's key, wrapped by the master key
//	/halfshaft/v1/owner/ties/<serial>/<tie>       halfshaft.owner.v1.Tie
//	/halfshaft/v1/owner/vehicles/<serial>         written with every tie of the vehicle, so that two cannot pass each other
//	/halfshaft/v1/owner/master-key                the identifier of the master key, in hex
//
// The key of a person stands apart from the record so that erasing the person
// can destroy it. That alone leaves the wrapped key in etcd's log and backups,
// so an erasure also has to replace the master key and wrap the others anew.
//
// People are held in memory as they are stored, sealed, and opened when asked
// for: some microseconds each, and no address lies about in memory.
package ownerstore

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"log/slog"
	"maps"
	"slices"
	"strings"
	"sync"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/feed"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/vehicle"
)

// Service is the name under which the keys and their request ids stand.
const Service = "owner"

var (
	prefix         = kv.Prefix(Service)
	peoplePrefix   = prefix + "people/"
	keysPrefix     = prefix + "person-keys/"
	tiesPrefix     = prefix + "ties/"
	vehiclesPrefix = prefix + "vehicles/"
	masterRecord   = prefix + "master-key"
)

// Config says where the store and its master key are.
type Config struct {
	Store         *kv.Store
	MasterKeyPath string
	Logger        *slog.Logger
}

// sealedPerson is a person as stored.
type sealedPerson struct {
	sealed      []byte
	modRevision int64
}

// TieRecord is a tie as it stands at a revision.
type TieRecord struct {
	owner.Tie
	ModRevision int64
}

// Store holds everything in memory, as etcd last told, and writes. It is safe
// for concurrent use.
type Store struct {
	kv       *kv.Store
	master   *MasterKey
	follower *projection.Follower
	hub      *feed.Hub[vehicle.Serial]

	mu       sync.RWMutex
	people   map[string]sealedPerson
	wrapped  map[string][]byte // person's key
	ties     map[vehicle.Serial][]TieRecord
	guards   map[vehicle.Serial]int64 // revision of the vehicle's record
	masterID string
	ids      []string         // of people, sorted; nil when to be made anew
	serials  []vehicle.Serial // with ties, sorted; likewise
}

// Open loads what is stored and follows it until ctx is done or Close is
// called. At the first start over a store it makes the master key if there is
// none at the path; later a missing or different one is refused, since nobody
// could be read with it.
func Open(ctx context.Context, c Config) (*Store, error) {
	s := &Store{
		kv: c.Store, hub: feed.NewHub[vehicle.Serial](), people: map[string]sealedPerson{}, wrapped: map[string][]byte{},
		ties: map[vehicle.Serial][]TieRecord{}, guards: map[vehicle.Serial]int64{},
	}
	var err error
	if s.follower, err = projection.Start(ctx, c.Store.Client(), prefix, s, c.Logger); err != nil {
		return nil, err
	}
	if err := s.unlock(ctx, c.MasterKeyPath); err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

// unlock loads the master key, or makes it, and compares it with the store's.
func (s *Store) unlock(ctx context.Context, path string) error {
	var err error
	s.master, err = LoadMasterKey(path)
	if errors.Is(err, ErrNoMasterKey) {
		if s.storedMasterID() != "" {
			return fault.New(fault.FailedPrecondition, "MASTER_KEY_MISSING",
				"The store holds people, and the master key file that opens them is not where it should be. Put it back from where its copy is kept.")
		}
		s.master, err = CreateMasterKey(path)
	}
	if err != nil {
		return err
	}
	if s.storedMasterID() == "" {
		done, err := s.kv.Commit(ctx, kv.NewTxn().Absent(masterRecord).PutBytes(masterRecord, []byte(s.master.ID())))
		if fault.Is(err, fault.AlreadyExists) {
			err = s.catchUp(ctx) // another process was first
		} else if err == nil {
			err = s.follower.Wait(ctx, done.Revision)
		}
		if err != nil {
			return err
		}
	}
	if s.storedMasterID() != s.master.ID() {
		return fault.New(fault.FailedPrecondition, "MASTER_KEY_DIFFERS",
			"The master key file holds another key than the one that sealed the people in this store.")
	}
	return nil
}

func (s *Store) storedMasterID() string {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.masterID
}

// catchUp waits until memory holds what etcd holds now.
func (s *Store) catchUp(ctx context.Context) error {
	now, err := s.kv.Client().Get(ctx, masterRecord)
	if err != nil {
		return &fault.Error{Kind: fault.Unavailable, Reason: "STORE_OUT_OF_REACH", Message: "the store gave no answer", Cause: err}
	}
	return s.follower.Wait(ctx, now.Header.Revision)
}

// Apply implements projection.Handler.
func (s *Store) Apply(events []projection.Event, revision int64) error {
	var changed []vehicle.Serial
	s.mu.Lock()
	for _, e := range events {
		serial, err := s.applyOne(e)
		if err != nil {
			s.mu.Unlock()
			return err
		}
		if serial != "" {
			changed = append(changed, serial)
		}
	}
	s.mu.Unlock()
	s.hub.Publish(changed, revision)
	return nil
}

// Known implements projection.Handler. The revision of a person's key is not
// kept, so that it comes again with a relist.
func (s *Store) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		s.mu.RLock()
		defer s.mu.RUnlock()
		if s.masterID != "" && !yield(masterRecord, 0) {
			return
		}
		for id, p := range s.people {
			if !yield(peoplePrefix+id, p.modRevision) {
				return
			}
		}
		for id := range s.wrapped {
			if !yield(keysPrefix+id, 0) {
				return
			}
		}
		for serial, revision := range s.guards {
			if !yield(vehiclesPrefix+string(serial), revision) {
				return
			}
		}
		for _, ties := range s.ties {
			for _, t := range ties {
				if !yield(tieKey(t.Tie), t.ModRevision) {
					return
				}
			}
		}
	}
}

// applyOne takes in one event and gives the vehicle whose ties it changed.
func (s *Store) applyOne(e projection.Event) (vehicle.Serial, error) {
	rest := strings.TrimPrefix(e.Key, prefix)
	kind, id, _ := strings.Cut(rest, "/")
	switch kind {
	case "people":
		if _, there := s.people[id]; there == e.Deleted {
			s.ids = nil
		}
		if e.Deleted {
			delete(s.people, id)
		} else {
			s.people[id] = sealedPerson{e.Value, e.ModRevision}
		}
	case "person-keys":
		if e.Deleted {
			delete(s.wrapped, id)
		} else {
			s.wrapped[id] = e.Value
		}
	case "vehicles":
		if e.Deleted {
			delete(s.guards, vehicle.Serial(id))
		} else {
			s.guards[vehicle.Serial(id)] = e.ModRevision
		}
	case "master-key":
		s.masterID = string(e.Value)
	case "ties":
		return s.applyTie(e, id)
	}
	return "", nil
}

func (s *Store) applyTie(e projection.Event, path string) (vehicle.Serial, error) {
	text, id, _ := strings.Cut(path, "/")
	serial := vehicle.Serial(text)
	if len(s.ties[serial]) == 0 {
		s.serials = nil
	}
	// A new list each time, since readers may hold the old one.
	list := slices.DeleteFunc(slices.Clone(s.ties[serial]), func(t TieRecord) bool { return t.ID == id })
	if !e.Deleted {
		var p ownerv1.Tie
		if err := proto.Unmarshal(e.Value, &p); err != nil {
			return "", fmt.Errorf("the tie %s cannot be read: %w", path, err)
		}
		t, faults := ownerwire.Tie(&p)
		if len(faults) > 0 {
			return "", fmt.Errorf("the tie %s cannot be read: %v", path, faults)
		}
		t.Serial, t.ID = serial, id
		list = append(list, TieRecord{t, e.ModRevision})
		slices.SortFunc(list, func(a, b TieRecord) int { return owner.Order(a.Tie, b.Tie) })
	}
	s.ties[serial] = list
	return serial, nil
}

// sorted gives the keys of a map in order.
func sorted[K ~string, V any](m map[K]V) []K { return slices.Sorted(maps.Keys(m)) }

// PersonIDs gives the identifiers of all people, sorted. The list is shared:
// do not change it.
func (s *Store) PersonIDs() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ids == nil {
		s.ids = sorted(s.people)
	}
	return s.ids
}

// Serials gives all vehicles that have or had ties, sorted. The list is
// shared: do not change it.
func (s *Store) Serials() []vehicle.Serial {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.serials == nil {
		s.serials = sorted(s.ties)
	}
	return s.serials
}

// Subscribe begins to tell the vehicles whose ties change.
func (s *Store) Subscribe() *feed.Subscription[vehicle.Serial] { return s.hub.Subscribe() }

// Revision gives up to where memory is known to be whole.
func (s *Store) Revision() int64 { return s.follower.Revision() }

// Follower is what waits for memory to reach a revision.
func (s *Store) Follower() *projection.Follower { return s.follower }

// Close ends the following.
func (s *Store) Close() { s.follower.Close() }
