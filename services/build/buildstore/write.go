package buildstore

import (
	"context"

	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/protobuf/proto"

	"halfshaft/services/build"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
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

// Write is what happens to one vehicle in a transaction. Was is the vehicle as
// it was read, nil for a new one.
type Write struct {
	Was        *Vehicle
	Record     *build.Record // nil: the record stays as it was
	Changes    []build.Change
	Amendments []build.Amendment
}

// serial is the vehicle that it is about.
func (w *Write) serial() vehicle.Serial {
	if w.Was != nil {
		return w.Was.Record.Serial
	}
	return w.Record.Serial
}

// becomes is the vehicle after the write.
func (w *Write) becomes() Vehicle {
	var v Vehicle
	if w.Was != nil {
		v = *w.Was
	}
	if w.Record != nil {
		v.Record = *w.Record
	}
	v.Changes = append(v.Changes[:len(v.Changes):len(v.Changes)], w.Changes...)
	return v
}

// Commit writes to one vehicle or several in one transaction and waits until
// reads include it. It refuses with
//
//   - FailedPrecondition COMPONENT_ELSEWHERE when a component would be in two
//     places at once, naming both;
//   - AlreadyExists when a new record's serial is taken;
//   - Aborted CONFLICT when one of the vehicles changed since it was read:
//     read again and decide again.
func (s *Store) Commit(ctx context.Context, r Request, writes ...Write) (kv.Result, error) {
	t := kv.NewTxn().Once(Service, r.ID, r.Payload, r.Answer)
	for i := range writes {
		s.add(t, &writes[i], r.ID)
	}
	if err := s.claim(ctx, t, writes); err != nil {
		return kv.Result{}, err
	}
	result, err := s.kv.Commit(ctx, t)
	if err != nil {
		return kv.Result{}, err
	}
	return result, s.Wait(ctx, result.Revision)
}

// Check refuses what Commit would refuse of the places of components, and writes
// nothing.
func (s *Store) Check(ctx context.Context, writes ...Write) error {
	return s.claim(ctx, kv.NewTxn(), writes)
}

// add puts one vehicle's records and its guard into the transaction.
func (s *Store) add(t *kv.Txn, w *Write, by string) {
	serial := w.serial()
	if w.Was == nil {
		t.Absent(buildKey(serial)).Unchanged(vehicleKey(serial), 0)
	} else {
		t.Unchanged(vehicleKey(serial), w.Was.Guard) // and with it all else of the vehicle
	}
	if w.Record != nil {
		t.Put(buildKey(serial), buildwire.RecordProto(*w.Record))
	}
	for _, c := range w.Changes {
		t.Absent(changeKey(serial, c.ID)).Put(changeKey(serial, c.ID), buildwire.ChangeProto(c))
	}
	for _, a := range w.Amendments {
		t.Absent(amendmentKey(serial, a.ID)).Put(amendmentKey(serial, a.ID), buildwire.AmendmentProto(a))
	}
	t.PutBytes(vehicleKey(serial), []byte(by))
}

// claim checks that no component would be in two places at once, and puts the
// claims of those whose place changes into the transaction.
func (s *Store) claim(ctx context.Context, t *kv.Txn, writes []Write) error {
	mine, keys, err := s.moves(writes)
	if err != nil || len(keys) == 0 {
		return err
	}
	revisions, newest, err := s.claims(ctx, keys)
	if err != nil {
		return err
	}
	// A claim is written with what it is about, so from its revision on the
	// memory knows every place of the component.
	if err := s.Wait(ctx, newest); err != nil {
		return err
	}
	var known []string // claimed before: only these can be elsewhere
	for i, k := range keys {
		if revisions[i] > 0 {
			known = append(known, k)
		}
	}
	var others []build.Holding
	if len(known) > 0 {
		serials := make([]vehicle.Serial, len(writes))
		for i := range writes {
			serials[i] = writes[i].serial()
		}
		if others, err = s.holdingsOf(known, serials...); err != nil {
			return err
		}
	}
	if conflicts := build.Conflicts(mine, others); len(conflicts) > 0 {
		return elsewhere(conflicts)
	}
	for i, k := range keys {
		t.Unchanged(claimKey(k), revisions[i]).PutBytes(claimKey(k), about(writes))
	}
	return nil
}

// about is a claim's value: the vehicles of the write.
func about(writes []Write) []byte {
	var b []byte
	for i := range writes {
		b = append(b, writes[i].serial()...)
		b = append(b, '\n')
	}
	return b
}

// moves gives where the components of the written vehicles will be, and the
// keys of those whose place differs from before.
func (s *Store) moves(writes []Write) (mine []build.Holding, keys []string, err error) {
	releases := s.Releases()
	var before []build.Holding
	for i := range writes {
		w := &writes[i]
		if w.Was != nil {
			held, err := w.Was.Holdings(releases)
			if err != nil {
				return nil, nil, err
			}
			before = append(before, held...)
		}
		after := w.becomes()
		held, err := after.Holdings(releases)
		if err != nil {
			return nil, nil, err
		}
		mine = append(mine, held...)
	}
	return mine, build.Moved(before, mine), nil
}

// claims reads the revisions of the claims, 0 for one that was never made, and
// gives the newest of them.
func (s *Store) claims(ctx context.Context, keys []string) (revisions []int64, newest int64, err error) {
	if len(keys) >= kv.MaxOps-8 {
		return nil, 0, fault.InvalidField("components", "", "fewer components with serials of their own in one write")
	}
	ops := make([]clientv3.Op, len(keys))
	for i, k := range keys {
		ops[i] = clientv3.OpGet(claimKey(k), clientv3.WithKeysOnly())
	}
	resp, err := s.kv.Client().Txn(ctx).Then(ops...).Commit()
	if err != nil {
		return nil, 0, outOfReach(err)
	}
	revisions = make([]int64, len(keys))
	for i, r := range resp.Responses {
		if kvs := r.GetResponseRange().Kvs; len(kvs) > 0 {
			revisions[i] = kvs[0].ModRevision
			newest = max(newest, revisions[i])
		}
	}
	return revisions, newest, nil
}

// elsewhere refuses a write for every component that would be in two places.
func elsewhere(conflicts []build.Conflict) error {
	f := fault.New(fault.FailedPrecondition, "COMPONENT_ELSEWHERE",
		"a component cannot be in two places at once: move it, or take it off the other vehicle first")
	for _, c := range conflicts {
		f.Fields = append(f.Fields, ConflictField(c))
	}
	f.Meta = map[string]string{"record": build.Name(conflicts[0].Other.Vehicle)}
	return f
}

// ConflictField says of one component where it would be and where it is.
func ConflictField(c build.Conflict) fault.Field {
	return fault.Field{
		Name: "components[" + c.Holding.Position + "].serial", Got: c.Holding.Serial,
		Want: "a component that does not stand elsewhere at that time; it is recorded on " + c.Other.String(),
	}
}

// CreateRelease freezes a release; AlreadyExists when there is one of the name.
func (s *Store) CreateRelease(ctx context.Context, r Request, release build.Release) (kv.Result, error) {
	key := releaseKey(release.ID)
	result, err := s.kv.Commit(ctx, kv.NewTxn().Once(Service, r.ID, r.Payload, r.Answer).
		Absent(key).Put(key, buildwire.ReleaseProto(release)))
	if err != nil {
		return kv.Result{}, err
	}
	return result, s.Wait(ctx, result.Revision)
}

// Answer reads the stored answer of a replayed request into m.
func Answer[M proto.Message](r kv.Result, m M) (M, error) {
	if err := proto.Unmarshal(r.Answer, m); err != nil {
		return m, damaged("request", err)
	}
	return m, nil
}
