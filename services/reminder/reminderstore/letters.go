package reminderstore

import (
	"context"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"
)

// MarkPrinted writes letters that are given out to be printed, all or none, if
// none of them changed since it was read, and gives them as they then are.
func (s *Store) MarkPrinted(ctx context.Context, before []Kept, after []reminder.Notice) ([]Kept, error) {
	t, out := kv.NewTxn(), []Kept{}
	for i, k := range before {
		key := noticeKey(k.Serial, k.ID)
		t.Unchanged(key, k.Revision).Put(key, reminderwire.NoticeProto(after[i]))
	}
	r, err := s.kv.Commit(ctx, t)
	if err != nil {
		return nil, err
	}
	for _, n := range after {
		out = append(out, Kept{n, r.Revision})
	}
	return out, s.settle(ctx, r.Revision)
}

// MarkPosted writes letters that were posted, all or none, if none of them
// changed since it was read. The same request again writes nothing.
func (s *Store) MarkPosted(ctx context.Context, q Request, before []Kept, after []reminder.Notice) error {
	t := kv.NewTxn().Once(service, q.ID, q.Payload, &reminderv1.MarkPostedResponse{})
	for i, k := range before {
		key := noticeKey(k.Serial, k.ID)
		t.Unchanged(key, k.Revision).Put(key, reminderwire.NoticeProto(after[i]))
	}
	r, err := s.kv.Commit(ctx, t)
	if err != nil || r.Replayed {
		return err
	}
	return s.settle(ctx, r.Revision)
}
