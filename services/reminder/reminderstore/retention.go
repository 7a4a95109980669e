package reminderstore

import (
	"context"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
)

// ExpiredMessages gives up to limit notices whose messages are past their time
// and still kept, in order of identifier and after one.
func (s *Store) ExpiredMessages(ctx context.Context, now time.Time, after string, limit int) ([]Kept, error) {
	var out []Kept
	for len(out) < limit {
		page, err := s.Notices(ctx, "", after, pageKeys, func(n reminder.Notice) bool { return n.Expired(now) })
		if err != nil {
			return nil, err
		}
		kept, err := s.withMessages(ctx, page)
		if err != nil {
			return nil, err
		}
		out = append(out, kept[:min(len(kept), limit-len(out))]...)
		if len(page) < pageKeys {
			break
		}
		after = page[len(page)-1].ID
	}
	return out, nil
}

// withMessages gives those notices of which something that goes with their
// message is there still. It asks about many at once: in time nearly all notices
// are past theirs, and looked at by every pass.
func (s *Store) withMessages(ctx context.Context, notices []Kept) ([]Kept, error) {
	var keys []string
	for _, k := range notices {
		keys = append(keys, bodyKey(k.Serial, k.ID), sentToKey(k.Serial, k.ID))
	}
	there, err := s.kv.There(ctx, keys)
	if err != nil {
		return nil, err
	}
	var out []Kept
	for i, k := range notices {
		if there[2*i] || there[2*i+1] || !proto.Equal(reminderwire.NoticeProto(k.Notice), reminderwire.NoticeProto(k.Bare())) {
			out = append(out, k)
		}
	}
	return out, nil
}

// DropMessage takes from a notice, if it is still at its revision and the fence
// holds, its message, the address that it went to and what came back. The
// notice and its claims stay: nobody is told twice.
func (s *Store) DropMessage(ctx context.Context, fence kv.Fence, k Kept) error {
	key := noticeKey(k.Serial, k.ID)
	r, err := s.kv.Commit(ctx, kv.NewTxn().Fence(fence).Unchanged(key, k.Revision).Put(key, reminderwire.NoticeProto(k.Bare())).
		Delete(bodyKey(k.Serial, k.ID)).Delete(sentToKey(k.Serial, k.ID)))
	if err != nil {
		return err
	}
	return s.settle(ctx, r.Revision)
}

// DropTask removes a task, if it is still at its revision and the fence holds.
// The claim of its round stays, so that it does not come up again.
func (s *Store) DropTask(ctx context.Context, fence kv.Fence, t KeptTask) error {
	r, err := s.kv.Commit(ctx, kv.NewTxn().Fence(fence).Unchanged(taskKey(t.ID), t.Revision).Delete(taskKey(t.ID)))
	if err != nil {
		return err
	}
	return s.settle(ctx, r.Revision)
}

// ExpiredPassDays gives the days before one that still say who was told what.
func (s *Store) ExpiredPassDays(ctx context.Context, before vehicle.Date) ([]string, error) {
	var out []string
	err := s.pages(ctx, passDaysPrefix, passDaysPrefix, func(value []byte, _ int64) (bool, error) {
		var p reminderv1.PassDay
		if err := proto.Unmarshal(value, &p); err != nil {
			return false, err
		}
		day := strings.TrimPrefix(p.GetName(), "passDays/")
		if day >= before.String() { // days are written so that their order is that of their texts
			return false, nil
		}
		if len(p.GetTold()) > 0 {
			out = append(out, day)
		}
		return true, nil
	})
	return out, err
}

// DropTold takes from a past day who was told what, if the fence holds; the
// numbers stay.
func (s *Store) DropTold(ctx context.Context, fence kv.Fence, day string) error {
	p := &reminderv1.PassDay{}
	revision, found, err := s.kv.Get(ctx, passDaysPrefix+day, p)
	if err != nil || !found {
		return err
	}
	p.Told = nil
	r, err := s.kv.Commit(ctx, kv.NewTxn().Fence(fence).Unchanged(passDaysPrefix+day, revision).Put(passDaysPrefix+day, p))
	if err != nil {
		return err
	}
	return s.settle(ctx, r.Revision)
}
