package ownerstore

import (
	"context"
	"slices"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/internal/kv"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/vehicle"
)

// Ties gives the ties of a vehicle, the oldest first, and the revision of the
// vehicle's record, which a new tie must be based on. The list is shared: do
// not change it.
func (s *Store) Ties(serial vehicle.Serial) (list []TieRecord, guard int64) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.state.ties[serial], s.state.guards[serial]
}

// Tie gives one tie.
func (s *Store) Tie(serial vehicle.Serial, id string) (TieRecord, bool) {
	list, _ := s.Ties(serial)
	if i := slices.IndexFunc(list, func(t TieRecord) bool { return t.ID == id }); i >= 0 {
		return list[i], true
	}
	return TieRecord{}, false
}

// TiesOf gives the ties of each of these people, the latest first.
func (s *Store) TiesOf(people map[string]bool) map[string][]TieRecord {
	out := map[string][]TieRecord{}
	s.mu.RLock()
	for _, list := range s.state.ties {
		for _, t := range list {
			if people[t.Person] {
				out[t.Person] = append(out[t.Person], t)
			}
		}
	}
	s.mu.RUnlock()
	for _, list := range out {
		slices.SortFunc(list, func(a, b TieRecord) int {
			if by := b.Start.Compare(a.Start); by != 0 {
				return by
			}
			return owner.Order(a.Tie, b.Tie)
		})
	}
	return out
}

func tieKey(t owner.Tie) string { return tiesPrefix + string(t.Serial) + "/" + t.ID }

func vehicleKey(serial vehicle.Serial) string { return vehiclesPrefix + string(serial) }

// CreateTie writes a new tie, decided on what stood at the guard's revision:
// Aborted when another tie of the vehicle came between, or the person is no
// more.
func (s *Store) CreateTie(ctx context.Context, t owner.Tie, guard int64, requestID string, request proto.Message) (kv.Result, error) {
	s.rotation.RLock()
	defer s.rotation.RUnlock()
	_, keyRevision, err := s.keyAt(t.Person)
	if err != nil {
		return kv.Result{}, err
	}
	return s.kv.Commit(ctx, kv.NewTxn().
		Unchanged(vehicleKey(t.Serial), guard).Unchanged(keysPrefix+t.Person, keyRevision).Absent(tieKey(t)).
		PutBytes(vehicleKey(t.Serial), []byte(t.ID)).Put(tieKey(t), ownerwire.TieProto(t)).
		Once(Service, requestID, request, ownerwire.TieProto(t)))
}

// ReplaceTie writes a tie over the one read at modRevision.
func (s *Store) ReplaceTie(ctx context.Context, t owner.Tie, modRevision int64, requestID string, request proto.Message) (kv.Result, error) {
	return s.kv.Commit(ctx, kv.NewTxn().
		Unchanged(tieKey(t), modRevision).
		PutBytes(vehicleKey(t.Serial), []byte(t.ID)).Put(tieKey(t), ownerwire.TieProto(t)).
		Once(Service, requestID, request, ownerwire.TieProto(t)))
}

// AnsweredPlain gives the answer of a request without personal data that was
// answered before.
func (s *Store) AnsweredPlain(ctx context.Context, requestID string, request proto.Message) (kv.Result, bool, error) {
	return s.kv.Lookup(ctx, Service, requestID, request)
}
