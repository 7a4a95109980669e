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
	return s.ties[serial], s.guards[serial]
}

// Tie gives one tie.
func (s *Store) Tie(serial vehicle.Serial, id string) (TieRecord, bool) {
	list, _ := s.Ties(serial)
	if i := slices.IndexFunc(list, func(t TieRecord) bool { return t.ID == id }); i >= 0 {
		return list[i], true
	}
	return TieRecord{}, false
}

func tieKey(t owner.Tie) string { return tiesPrefix + string(t.Serial) + "/" + t.ID }

func vehicleKey(serial vehicle.Serial) string { return vehiclesPrefix + string(serial) }

// CreateTie writes a new tie, decided on what stood at the guard's revision:
// Aborted when another tie of the vehicle came between.
func (s *Store) CreateTie(ctx context.Context, t owner.Tie, guard int64, requestID string, request proto.Message) (kv.Result, error) {
	return s.kv.Commit(ctx, kv.NewTxn().
		Unchanged(vehicleKey(t.Serial), guard).Absent(tieKey(t)).
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

// AnsweredTie gives the answer of a request about a tie that was answered
// before.
func (s *Store) AnsweredTie(ctx context.Context, requestID string, request proto.Message) (kv.Result, bool, error) {
	return s.kv.Lookup(ctx, Service, requestID, request)
}
