// Package enquirystore keeps enquiries and notes in etcd.
//
// Keys in etcd, and nobody else's:
//
//	/halfshaft/v1/enquiry/enquiries/<serial>/<enquiry>   halfshaft.enquiry.v1.KeptEnquiry
//	/halfshaft/v1/enquiry/notes/<note>                   halfshaft.enquiry.v1.AnswerNote
//
// All of it is held in memory as it is stored, with an index over what is
// nobody's: symptoms, positions, releases, links, notes, and the words of
// askers who are not on record. Words that are sealed stay sealed here, and are
// opened for who may read them when they read them.
package enquirystore

import (
	"context"
	"log/slog"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/staging"
	"halfshaft/services/vehicle"
)

// Service is the name under which the keys and their request ids stand.
const Service = "enquiry"

var (
	prefix          = kv.Prefix(Service)
	enquiriesPrefix = prefix + "enquiries/"
	notesPrefix     = prefix + "notes/"
)

func enquiryKey(serial vehicle.Serial, id string) string {
	return enquiriesPrefix + string(serial) + "/" + id
}

func noteKey(id string) string { return notesPrefix + id }

// Store is the service's keys. It is safe for concurrent use.
type Store struct {
	kv       *kv.Store
	group    *projection.Group
	follower *projection.Follower
	state    *state
}

// Open loads what is stored and follows it until ctx is done or Close is called.
func Open(ctx context.Context, store *kv.Store, group *projection.Group, logger *slog.Logger) (*Store, error) {
	st := newState()
	f, err := projection.Start(ctx, store.Client(), prefix, st, logger)
	if err != nil {
		return nil, err
	}
	group.Add(Service, f)
	return &Store{kv: store, group: group, follower: f, state: st}, nil
}

// Close ends the following.
func (s *Store) Close() { s.follower.Close() }

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

// Restore writes the records of a chunk of an import, which are new: the import
// was looked over before.
func (s *Store) Restore(ctx context.Context, enquiries []Kept, notes []enquiry.Note) error {
	var all []func(*kv.Txn)
	for _, k := range enquiries {
		all = append(all, func(t *kv.Txn) {
			key := enquiryKey(k.Serial, k.ID)
			t.Absent(key).Put(key, enquirywire.KeptProto(k.Enquiry, k.Sealed))
		})
	}
	for _, n := range notes {
		all = append(all, func(t *kv.Txn) { t.Absent(noteKey(n.ID)).Put(noteKey(n.ID), enquirywire.NoteProto(n)) })
	}
	for some := range slices.Chunk(all, kv.MaxOps) {
		t := kv.NewTxn()
		for _, add := range some {
			add(t)
		}
		r, err := s.kv.Commit(ctx, t)
		if err != nil {
			return err
		}
		if err := s.follower.Wait(ctx, r.Revision); err != nil {
			return err
		}
	}
	return nil
}

// Request identifies a caller's change, so that it happens once.
type Request struct {
	ID      string // UUID, or "" for none
	Payload proto.Message
}

// Kept is an enquiry with the revision it was last written at. Of one whose
// asker is on record the words are in Sealed, and nowhere else.
type Kept struct {
	enquiry.Enquiry
	Sealed   []byte
	Revision int64
}

// KeptNote is a note with the revision it was last written at.
type KeptNote struct {
	enquiry.Note
	Revision int64
}

// PutEnquiry writes an enquiry over the one read at a revision; 0: a new one.
func (s *Store) PutEnquiry(ctx context.Context, q Request, k Kept) (Kept, error) {
	key, record := enquiryKey(k.Serial, k.ID), enquirywire.KeptProto(k.Enquiry, k.Sealed)
	t := kv.NewTxn().Unchanged(key, k.Revision).Put(key, record).Once(Service, q.ID, q.Payload, record)
	r, err := s.kv.Commit(ctx, t)
	if err != nil {
		return Kept{}, err
	}
	if r.Replayed {
		return parseEnquiry(r.Answer, r.Revision)
	}
	k.Revision = r.Revision
	return k, s.group.Wait(ctx, Service, r.Revision)
}

// ReplayEnquiry gives the answer of a request that was answered before.
func (s *Store) ReplayEnquiry(ctx context.Context, q Request) (Kept, bool, error) {
	r, found, err := s.kv.Lookup(ctx, Service, q.ID, q.Payload)
	if err != nil || !found {
		return Kept{}, false, err
	}
	k, err := parseEnquiry(r.Answer, r.Revision)
	return k, err == nil, err
}

// CreateNote writes a new note.
func (s *Store) CreateNote(ctx context.Context, q Request, n enquiry.Note) (KeptNote, error) {
	return s.putNote(ctx, q, kv.NewTxn().Absent(noteKey(n.ID)), n)
}

// PutNote writes a note over the one read at a revision.
func (s *Store) PutNote(ctx context.Context, q Request, k KeptNote) (KeptNote, error) {
	return s.putNote(ctx, q, kv.NewTxn().Unchanged(noteKey(k.ID), k.Revision), k.Note)
}

func (s *Store) putNote(ctx context.Context, q Request, t *kv.Txn, n enquiry.Note) (KeptNote, error) {
	record := enquirywire.NoteProto(n)
	r, err := s.kv.Commit(ctx, t.Put(noteKey(n.ID), record).Once(Service, q.ID, q.Payload, record))
	if err != nil {
		return KeptNote{}, err
	}
	if r.Replayed {
		return parseNote(r.Answer, r.Revision)
	}
	return KeptNote{n, r.Revision}, s.group.Wait(ctx, Service, r.Revision)
}

// ReplayNote gives the answer of a request that was answered before.
func (s *Store) ReplayNote(ctx context.Context, q Request) (KeptNote, bool, error) {
	r, found, err := s.kv.Lookup(ctx, Service, q.ID, q.Payload)
	if err != nil || !found {
		return KeptNote{}, false, err
	}
	k, err := parseNote(r.Answer, r.Revision)
	return k, err == nil, err
}

func parseEnquiry(value []byte, revision int64) (Kept, error) {
	var p enquiryv1.KeptEnquiry
	if err := proto.Unmarshal(value, &p); err != nil {
		return Kept{}, damaged(err)
	}
	e, sealed, err := enquirywire.Kept(&p)
	if err != nil {
		return Kept{}, damaged(err)
	}
	return Kept{e, sealed, revision}, nil
}

func parseNote(value []byte, revision int64) (KeptNote, error) {
	var p enquiryv1.AnswerNote
	if err := proto.Unmarshal(value, &p); err != nil {
		return KeptNote{}, damaged(err)
	}
	n, err := enquirywire.Note(&p)
	if err != nil {
		return KeptNote{}, damaged(err)
	}
	return KeptNote{n, revision}, nil
}

func damaged(cause error) error {
	return &fault.Error{Kind: fault.Internal, Reason: "RECORD_DAMAGED", Message: "a record of the enquiries cannot be read", Cause: cause}
}

// serialOf gives the vehicle of an enquiry's key.
func serialOf(key string) (vehicle.Serial, string, bool) {
	serial, id, ok := strings.Cut(strings.TrimPrefix(key, enquiriesPrefix), "/")
	return vehicle.Serial(serial), id, ok
}
