package reminderstore

import (
	"context"

	"google.golang.org/protobuf/proto"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/kv"
)

// LinkEpoch reads the number that links to a person must carry, past the
// projection: another process may have raised it this moment.
func (s *Store) LinkEpoch(ctx context.Context, person string) (epoch int, revision int64, err error) {
	var p reminderv1.LinkEpoch
	revision, _, err = s.kv.Get(ctx, epochsPrefix+person, &p)
	return int(p.GetEpoch()), revision, err
}

// RaiseEpoch withdraws every link sent to a person and gives the number of
// those to come.
func (s *Store) RaiseEpoch(ctx context.Context, q Request, person string) (int, error) {
	var next reminderv1.LinkEpoch
	if found, err := s.replayed(ctx, q, &next); err != nil || found {
		return int(next.GetEpoch()), err
	}
	epoch, revision, err := s.LinkEpoch(ctx, person)
	if err != nil {
		return 0, err
	}
	next.Epoch = int32(epoch + 1)
	r, err := s.kv.Commit(ctx, kv.NewTxn().Unchanged(epochsPrefix+person, revision).Put(epochsPrefix+person, &next).
		Once(service, q.ID, q.Payload, &next))
	if err != nil {
		return 0, err
	}
	if r.Replayed {
		err := proto.Unmarshal(r.Answer, &next)
		return int(next.GetEpoch()), err
	}
	return int(next.GetEpoch()), s.settle(ctx, r.Revision)
}
