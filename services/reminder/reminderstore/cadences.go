package reminderstore

import (
	"context"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"

	"google.golang.org/protobuf/proto"
)

// KeptCadence is how a class is reminded of, with the revision that was
// written at: 0 while it is the usual one.
type KeptCadence struct {
	Class reminder.Class
	reminder.Cadence
	Revision int64
}

// Cadence gives how a class is reminded of.
func (s *Store) Cadence(ctx context.Context, class reminder.Class) (KeptCadence, error) {
	var p reminderv1.Cadence
	revision, found, err := s.kv.Get(ctx, cadencesPrefix+string(class), &p)
	if err != nil {
		return KeptCadence{}, err
	}
	if !found {
		return KeptCadence{Class: class, Cadence: reminder.Usual(class)}, nil
	}
	_, c, err := reminderwire.Cadence(&p)
	return KeptCadence{class, c, revision}, err
}

// PutCadence changes how a class is reminded of, if it is still at the
// revision; 0 is the usual cadence.
func (s *Store) PutCadence(ctx context.Context, q Request, class reminder.Class, c reminder.Cadence, at int64) (KeptCadence, error) {
	key, record := cadencesPrefix+string(class), reminderwire.CadenceProto(class, c)
	r, err := s.kv.Commit(ctx, kv.NewTxn().Unchanged(key, at).Put(key, record).Once(service, q.ID, q.Payload, record))
	if err != nil {
		return KeptCadence{}, err
	}
	if r.Replayed {
		class, c, err := parseCadence(r.Answer)
		return KeptCadence{class, c, r.Revision}, err
	}
	return KeptCadence{class, c, r.Revision}, s.settle(ctx, r.Revision)
}

// ReplayCadence gives the answer of a request that was answered before.
func (s *Store) ReplayCadence(ctx context.Context, q Request) (KeptCadence, bool, error) {
	r, found, err := s.kv.Lookup(ctx, service, q.ID, q.Payload)
	if err != nil || !found {
		return KeptCadence{}, false, err
	}
	class, c, err := parseCadence(r.Answer)
	return KeptCadence{class, c, r.Revision}, err == nil, err
}

// replayed reads the answer of a request that was answered before into m.
func (s *Store) replayed(ctx context.Context, q Request, m proto.Message) (found bool, err error) {
	r, found, err := s.kv.Lookup(ctx, service, q.ID, q.Payload)
	if err != nil || !found {
		return false, err
	}
	return true, proto.Unmarshal(r.Answer, m)
}
