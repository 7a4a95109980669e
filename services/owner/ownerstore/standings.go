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

// Standing gives what was recorded of a vehicle; revision 0 where nothing was.
func (s *Store) Standing(serial vehicle.Serial) StandingRecord {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.state.standings[serial]
}

// Standings gives all standings that were recorded, by serial.
func (s *Store) Standings() []StandingRecord {
	s.mu.RLock()
	defer s.mu.RUnlock()
	var out []StandingRecord
	for _, serial := range sorted(s.state.standings) {
		out = append(out, s.state.standings[serial])
	}
	return out
}

// TiedOrStanding gives all vehicles that have or had ties, or of which a
// standing was recorded.
func (s *Store) TiedOrStanding() []vehicle.Serial {
	tied := s.Serials()
	s.mu.RLock()
	defer s.mu.RUnlock()
	out := slices.Clone(tied)
	for serial := range s.state.standings {
		if len(s.state.ties[serial]) == 0 {
			out = append(out, serial)
		}
	}
	return out
}

func standingKey(serial vehicle.Serial) string { return standingsPrefix + string(serial) }

// PutStanding writes a standing over the one read at modRevision, 0 for none.
func (s *Store) PutStanding(ctx context.Context, n owner.Standing, modRevision int64, requestID string, request proto.Message) (kv.Result, error) {
	return s.kv.Commit(ctx, kv.NewTxn().
		Unchanged(standingKey(n.Serial), modRevision).Put(standingKey(n.Serial), ownerwire.StandingProto(n)).
		Once(Service, requestID, request, ownerwire.StandingProto(n)))
}
