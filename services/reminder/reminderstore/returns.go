package reminderstore

import (
	"context"
	"strings"

	"google.golang.org/protobuf/proto"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"
)

// ByReference gives the notice that a return path or a receipt names; false
// when none does.
func (s *Store) ByReference(ctx context.Context, reference string) (Kept, bool, error) {
	var named reminderv1.Notice
	if reference == "" || strings.Contains(reference, "/") {
		return Kept{}, false, nil
	}
	_, found, err := s.kv.Get(ctx, referencesPrefix+reference, &named)
	if err != nil || !found {
		return Kept{}, false, err
	}
	k, err := s.Notice(ctx, strings.TrimPrefix(named.GetName(), "notices/"))
	if fault.Is(err, fault.NotFound) {
		return Kept{}, false, nil
	}
	return k, err == nil, err
}

// SentTo gives the address or number that a notice went to, sealed; nil when
// none is kept.
func (s *Store) SentTo(ctx context.Context, n reminder.Notice) ([]byte, error) {
	resp, err := s.kv.Client().Get(ctx, sentToKey(n.Serial, n.ID))
	if err != nil {
		return nil, &fault.Error{Kind: fault.Unavailable, Reason: "STORE_OUT_OF_REACH", Message: "the store gave no answer", Cause: err}
	}
	if len(resp.Kvs) == 0 {
		return nil, nil
	}
	return resp.Kvs[0].Value, nil
}

// MarkReturn writes what became of a notice of which something came back, with
// what goes with it, and remembers the answer under the request: the same
// request again changes nothing and is given the first answer. No fence guards
// it: whichever process the message reaches takes it in, and a notice that
// changed since it was read is a conflict.
func (s *Store) MarkReturn(ctx context.Context, q Request, k Kept, after reminder.Notice, m Marking, answer proto.Message) error {
	return s.once(ctx, m.put(kv.NewTxn(), k, after), q, answer)
}

// Take remembers the answer of a request that changes no notice, with the
// tasks and the opt-outs that come of it.
func (s *Store) Take(ctx context.Context, q Request, tasks []reminder.Task, optOuts []reminder.OptOut, answer proto.Message) error {
	t := kv.NewTxn()
	for _, task := range tasks {
		t.Absent(taskKey(task.ID)).Put(taskKey(task.ID), reminderwire.TaskProto(task))
	}
	for _, o := range optOuts {
		t.Put(optOutKey(o), reminderwire.OptOutProto(o))
	}
	return s.once(ctx, t, q, answer)
}

// once commits with a request id, whose first answer is read into answer when
// it was answered before.
func (s *Store) once(ctx context.Context, t *kv.Txn, q Request, answer proto.Message) error {
	r, err := s.kv.Commit(ctx, t.Once(service, q.ID, q.Payload, answer))
	switch {
	case err != nil:
		return err
	case r.Replayed:
		return proto.Unmarshal(r.Answer, answer)
	}
	return s.settle(ctx, r.Revision)
}

// Replay reads the answer of a request that was answered before.
func (s *Store) Replay(ctx context.Context, q Request, answer proto.Message) (found bool, err error) {
	return s.replayed(ctx, q, answer)
}
