package reminderstore

import (
	"context"

	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/protobuf/proto"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
)

// PassDay gives what the passes of a day came to so far; empty when there were
// none, and the revision 0.
func (s *Store) PassDay(ctx context.Context, day vehicle.Date) (*reminderv1.PassDay, int64, error) {
	p := &reminderv1.PassDay{}
	revision, found, err := s.kv.Get(ctx, passDaysPrefix+day.String(), p)
	if err == nil && !found {
		p.Name = "passDays/" + day.String()
	}
	return p, revision, err
}

// passDayTries is how often a change is decided anew, because a pass, a letter
// that was posted and something that came back met on one day.
const passDayTries = 5

// AddToPassDay changes what the passes of a day came to: it reads, lets change
// work on it, and writes if nobody wrote meanwhile and the fence holds.
func (s *Store) AddToPassDay(ctx context.Context, fence kv.Fence, day vehicle.Date, change func(*reminderv1.PassDay)) error {
	return s.addToPassDay(ctx, day, change, func(t *kv.Txn) *kv.Txn { return t.Fence(fence) })
}

// CountOnDay is AddToPassDay for what happens outside of passes, in a process
// that may not lead: a letter is posted, something comes back.
func (s *Store) CountOnDay(ctx context.Context, day vehicle.Date, change func(*reminderv1.PassDay)) error {
	return s.addToPassDay(ctx, day, change, func(t *kv.Txn) *kv.Txn { return t })
}

func (s *Store) addToPassDay(ctx context.Context, day vehicle.Date, change func(*reminderv1.PassDay), fenced func(*kv.Txn) *kv.Txn) error {
	key := passDaysPrefix + day.String()
	for try := 1; ; try++ {
		p, revision, err := s.PassDay(ctx, day)
		if err != nil {
			return err
		}
		before := proto.CloneOf(p)
		change(p)
		if revision != 0 && proto.Equal(before, p) {
			return nil
		}
		r, err := s.kv.Commit(ctx, fenced(kv.NewTxn()).Unchanged(key, revision).Put(key, p))
		switch {
		case err == nil:
			return s.settle(ctx, r.Revision)
		case try == passDayTries || !kv.IsConflict(err):
			return err
		}
	}
}

// PassDays gives up to limit days before one, the latest first; an empty day
// gives the last ones.
func (s *Store) PassDays(ctx context.Context, before string, limit int) ([]*reminderv1.PassDay, error) {
	end := clientv3.GetPrefixRangeEnd(passDaysPrefix)
	if before != "" {
		end = passDaysPrefix + before
	}
	resp, err := s.kv.Client().Get(ctx, passDaysPrefix, clientv3.WithRange(end), clientv3.WithLimit(int64(limit)),
		clientv3.WithSort(clientv3.SortByKey, clientv3.SortDescend))
	if err != nil {
		return nil, &fault.Error{Kind: fault.Unavailable, Reason: "STORE_OUT_OF_REACH", Message: "the store gave no answer", Cause: err}
	}
	out := make([]*reminderv1.PassDay, len(resp.Kvs))
	for i, e := range resp.Kvs {
		out[i] = &reminderv1.PassDay{}
		if err := proto.Unmarshal(e.Value, out[i]); err != nil {
			return nil, err
		}
	}
	return out, nil
}
