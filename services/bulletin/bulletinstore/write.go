package bulletinstore

import (
	"context"
	"slices"

	"google.golang.org/protobuf/proto"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/bulletin"
	"halfshaft/services/bulletin/bulletinwire"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/staging"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

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

// keptVersion is a version as it is stored.
func keptVersion(v *Version) *bulletinv1.Bulletin {
	p := bulletinwire.BulletinProto(&v.Bulletin)
	p.CreateTime = vehiclewire.MomentProto(v.Created)
	return p
}

// put writes versions over those they were read as; Revision 0 is a new one.
func put(t *kv.Txn, versions ...*Version) *kv.Txn {
	for _, v := range versions {
		key := versionKey(v.Bulletin.ID, v.Bulletin.Version)
		if v.Revision == 0 {
			t.Absent(key)
		} else {
			t.Unchanged(key, v.Revision)
		}
		t.Put(key, keptVersion(v))
	}
	return t
}

// PutVersions writes versions in one transaction: AlreadyExists when a new one
// is there, Aborted when one changed since it was read, or is being issued.
// Reads include them when it returns.
func (s *Store) PutVersions(ctx context.Context, r Request, versions ...*Version) (kv.Result, error) {
	t := put(kv.NewTxn().Once(Service, r.ID, r.Payload, r.Answer), versions...)
	for _, v := range versions {
		t.Unchanged(issuingKey(v.Bulletin.ID, v.Bulletin.Version), 0)
	}
	return s.commit(ctx, t)
}

func (s *Store) commit(ctx context.Context, t *kv.Txn) (kv.Result, error) {
	result, err := s.kv.Commit(ctx, t)
	if err != nil {
		return kv.Result{}, err
	}
	return result, s.Wait(ctx, result.Revision)
}

// Few is how many follow-ups go into one transaction, with room for two
// versions, a mark, a fence and a request id.
const Few = kv.MaxOps - 7

// Issue writes an issued version, the one it takes the place of (nil for none)
// and the follow-ups of its list, at most Few, in one transaction.
func (s *Store) Issue(ctx context.Context, r Request, issued, former *Version, list []bulletin.FollowUp) (kv.Result, error) {
	t := kv.NewTxn().Once(Service, r.ID, r.Payload, r.Answer)
	put(t, issued).Unchanged(issuingKey(issued.Bulletin.ID, issued.Bulletin.Version), 0)
	if former != nil {
		put(t, former)
	}
	enter(t, list)
	return s.commit(ctx, t)
}

func enter(t *kv.Txn, list []bulletin.FollowUp) {
	for i := range list {
		key := followKey(list[i].Serial, list[i].Bulletin)
		t.Absent(key).Put(key, bulletinwire.KeptFollowUp(&list[i]))
	}
}

// Begin marks a draft as being issued, so that it is not changed meanwhile and
// whoever finds the mark carries it to its end.
func (s *Store) Begin(ctx context.Context, draft *Version, m *bulletinv1.Issuing) error {
	id, number := draft.Bulletin.ID, draft.Bulletin.Version
	_, err := s.commit(ctx, kv.NewTxn().Unchanged(versionKey(id, number), draft.Revision).
		Unchanged(issuingKey(id, number), 0).Put(issuingKey(id, number), m))
	return err
}

// Enter writes follow-ups of a version, at most Few, in one transaction: all or,
// with AlreadyExists, none. It is Aborted when the version changed since it was
// read: a campaign that was withdrawn enters nobody. A fence of nil is a
// caller's, not a job's.
func (s *Store) Enter(ctx context.Context, fence *kv.Fence, of *Version, list []bulletin.FollowUp) error {
	t := kv.NewTxn().Unchanged(versionKey(of.Bulletin.ID, of.Bulletin.Version), of.Revision)
	fenced(t, fence)
	enter(t, list)
	_, err := s.commit(ctx, t)
	return err
}

func fenced(t *kv.Txn, fence *kv.Fence) {
	if fence != nil {
		t.Fence(*fence)
	}
}

// Finish issues a version whose list is written, and removes its mark.
func (s *Store) Finish(ctx context.Context, fence *kv.Fence, r Request, mark *Begun, issued, former *Version) (kv.Result, error) {
	key := issuingKey(mark.ID, mark.Version)
	t := kv.NewTxn().Once(Service, r.ID, r.Payload, r.Answer)
	fenced(t, fence)
	put(t, issued).Unchanged(key, mark.Revision).Delete(key)
	if former != nil {
		put(t, former)
	}
	return s.commit(ctx, t)
}

// PutFollowUp writes a follow-up over the one it was read as.
func (s *Store) PutFollowUp(ctx context.Context, fence *kv.Fence, r Request, f *bulletin.FollowUp, was int64) (kv.Result, error) {
	key := followKey(f.Serial, f.Bulletin)
	t := kv.NewTxn().Once(Service, r.ID, r.Payload, r.Answer)
	fenced(t, fence)
	return s.commit(ctx, t.Unchanged(key, was).Put(key, bulletinwire.KeptFollowUp(f)))
}

// Staging makes the redo log of imports into this store.
func (s *Store) Staging(a staging.Applier) *staging.Log { return staging.New(s.kv, Service, a) }

// Revision is that of the last write that reads include.
func (s *Store) Revision() int64 { return s.follower.Revision() }

// Restored is what a chunk of an import writes: versions that are new, and
// vehicles on lists, new or over those they were read as.
type Restored struct {
	Versions  []*Version
	FollowUps []*Kept
}

// Restore writes the records of a chunk of an import, the vehicles first: they
// count when their versions are there.
func (s *Store) Restore(ctx context.Context, r Restored) error {
	var all []func(*kv.Txn)
	for _, k := range r.FollowUps {
		all = append(all, func(t *kv.Txn) {
			key := followKey(k.FollowUp.Serial, k.FollowUp.Bulletin)
			t.Unchanged(key, k.Revision).Put(key, bulletinwire.KeptFollowUp(&k.FollowUp))
		})
	}
	for _, v := range r.Versions {
		all = append(all, func(t *kv.Txn) { put(t, v) })
	}
	for some := range slices.Chunk(all, kv.MaxOps) {
		t := kv.NewTxn()
		for _, add := range some {
			add(t)
		}
		if _, err := s.commit(ctx, t); err != nil {
			return err
		}
	}
	return nil
}

// Listed gives the follow-up of a vehicle whether it counts yet or not; nil for
// none.
func (s *Store) Listed(serial vehicle.Serial, id string) *Kept {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return s.memory.campaigns[id][serial]
}
