package reminderstore

import (
	"context"
	"strings"

	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/protobuf/proto"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
)

// Notice gives one notice. An identifier that begins with no serial names
// none.
func (s *Store) Notice(ctx context.Context, id string) (Kept, error) {
	serial, ok := reminder.SerialOf(id)
	if !ok {
		return Kept{}, noNotice(id)
	}
	var p reminderv1.Notice
	revision, found, err := s.kv.Get(ctx, noticeKey(serial, id), &p)
	if err != nil {
		return Kept{}, err
	}
	if !found {
		return Kept{}, noNotice(id)
	}
	n, err := reminderwire.Notice(&p)
	return Kept{n, revision}, err
}

func noNotice(id string) error {
	return fault.New(fault.NotFound, "NOTICE_NOT_FOUND", "There is no notice %s here.", id)
}

// Sealed gives a notice's message as it is stored, sealed.
func (s *Store) Sealed(ctx context.Context, n reminder.Notice) ([]byte, error) {
	resp, err := s.kv.Client().Get(ctx, bodyKey(n.Serial, n.ID))
	if err != nil {
		return nil, &fault.Error{Kind: fault.Unavailable, Reason: "STORE_OUT_OF_REACH", Message: "the store gave no answer", Cause: err}
	}
	if len(resp.Kvs) == 0 {
		return nil, fault.New(fault.NotFound, "MESSAGE_NOT_FOUND", "The message of notice %s is not kept.", n.ID)
	}
	return resp.Kvs[0].Value, nil
}

// Notices gives up to limit notices that keep accepts, in order of identifier
// and after one: of one vehicle, or of all for an empty serial.
func (s *Store) Notices(ctx context.Context, serial vehicle.Serial, after string, limit int, keep func(reminder.Notice) bool) ([]Kept, error) {
	under := noticesPrefix
	if serial != "" {
		under += string(serial) + "/"
	}
	from := under
	if afterSerial, ok := reminder.SerialOf(after); ok {
		from = max(from, noticeKey(afterSerial, after)+"\x00")
	}
	var out []Kept
	err := s.pages(ctx, from, under, func(value []byte, revision int64) (bool, error) {
		k, err := parseNotice(value, revision)
		if err != nil {
			return false, err
		}
		if keep(k.Notice) {
			out = append(out, k)
		}
		return len(out) < limit, nil
	})
	return out, err
}

// KeptTask is a task with the revision it was last written at.
type KeptTask struct {
	reminder.Task
	Revision int64
}

// Tasks gives up to limit tasks that keep accepts, in order of identifier and
// after one.
func (s *Store) Tasks(ctx context.Context, after string, limit int, keep func(reminder.Task) bool) ([]KeptTask, error) {
	from := tasksPrefix
	if after != "" {
		from = taskKey(after) + "\x00"
	}
	var out []KeptTask
	err := s.pages(ctx, from, tasksPrefix, func(value []byte, revision int64) (bool, error) {
		t, err := parseTask(value, revision)
		if err != nil {
			return false, err
		}
		if keep(t.Task) {
			out = append(out, t)
		}
		return len(out) < limit, nil
	})
	return out, err
}

// pageKeys is how many records are read at once.
const pageKeys = 200

// pages calls each for the records from a key on that stand under a prefix,
// until it has enough.
func (s *Store) pages(ctx context.Context, from, under string, each func(value []byte, revision int64) (more bool, err error)) error {
	end := clientv3.GetPrefixRangeEnd(under)
	for {
		resp, err := s.kv.Client().Get(ctx, from, clientv3.WithRange(end), clientv3.WithLimit(pageKeys))
		if err != nil {
			return &fault.Error{Kind: fault.Unavailable, Reason: "STORE_OUT_OF_REACH", Message: "the store gave no answer", Cause: err}
		}
		for _, e := range resp.Kvs {
			if more, err := each(e.Value, e.ModRevision); err != nil || !more {
				return err
			}
			from = string(e.Key) + "\x00"
		}
		if !resp.More {
			return nil
		}
	}
}

// Task gives one task.
func (s *Store) Task(ctx context.Context, id string) (KeptTask, error) {
	var p reminderv1.Task
	revision, found, err := s.kv.Get(ctx, taskKey(id), &p)
	if err != nil {
		return KeptTask{}, err
	}
	if !found || strings.Contains(id, "/") {
		return KeptTask{}, fault.New(fault.NotFound, "TASK_NOT_FOUND", "There is no task %s here.", id)
	}
	t, err := reminderwire.Task(&p)
	return KeptTask{t, revision}, err
}

// Request identifies a caller's change, so that it happens once.
type Request struct {
	ID      string // UUID, or "" for none
	Payload proto.Message
}

// Put writes a notice that a person changed, if it is still at the revision. It
// is found by its reference, and by those that it had before.
func (s *Store) Put(ctx context.Context, q Request, n reminder.Notice, at int64) (Kept, error) {
	key, record := noticeKey(n.Serial, n.ID), reminderwire.NoticeProto(n)
	t := kv.NewTxn().Unchanged(key, at).Put(key, record)
	if n.Reference != "" {
		t.Put(referencesPrefix+n.Reference, &reminderv1.Notice{Name: reminderwire.NoticeName(n.ID)})
	}
	r, err := s.kv.Commit(ctx, t.Once(service, q.ID, q.Payload, record))
	if err != nil {
		return Kept{}, err
	}
	if r.Replayed {
		return parseNotice(r.Answer, r.Revision)
	}
	return Kept{n, r.Revision}, s.settle(ctx, r.Revision)
}

// PutTask writes a task that a person changed, if it is still at the revision.
func (s *Store) PutTask(ctx context.Context, q Request, t reminder.Task, at int64) (KeptTask, error) {
	key, record := taskKey(t.ID), reminderwire.TaskProto(t)
	r, err := s.kv.Commit(ctx, kv.NewTxn().Unchanged(key, at).Put(key, record).Once(service, q.ID, q.Payload, record))
	if err != nil {
		return KeptTask{}, err
	}
	if r.Replayed {
		return parseTask(r.Answer, r.Revision)
	}
	return KeptTask{t, r.Revision}, s.settle(ctx, r.Revision)
}

func parseTask(value []byte, revision int64) (KeptTask, error) {
	var p reminderv1.Task
	if err := proto.Unmarshal(value, &p); err != nil {
		return KeptTask{}, err
	}
	t, err := reminderwire.Task(&p)
	return KeptTask{t, revision}, err
}

// ReplayNotice gives the answer of a request that was answered before.
func (s *Store) ReplayNotice(ctx context.Context, q Request) (Kept, bool, error) {
	r, found, err := s.kv.Lookup(ctx, service, q.ID, q.Payload)
	if err != nil || !found {
		return Kept{}, false, err
	}
	k, err := parseNotice(r.Answer, r.Revision)
	return k, err == nil, err
}

// ReplayTask gives the answer of a request that was answered before.
func (s *Store) ReplayTask(ctx context.Context, q Request) (KeptTask, bool, error) {
	r, found, err := s.kv.Lookup(ctx, service, q.ID, q.Payload)
	if err != nil || !found {
		return KeptTask{}, false, err
	}
	k, err := parseTask(r.Answer, r.Revision)
	return k, err == nil, err
}

// OptOut makes an opt-out, or gives the one that is there.
func (s *Store) OptOut(ctx context.Context, q Request, o reminder.OptOut) (reminder.OptOut, error) {
	key, record := optOutKey(o), reminderwire.OptOutProto(o)
	r, err := s.kv.Commit(ctx, kv.NewTxn().Absent(key).Put(key, record).Once(service, q.ID, q.Payload, record))
	var there reminderv1.OptOut
	switch {
	case fault.Is(err, fault.AlreadyExists):
		_, found, err := s.kv.Get(ctx, key, &there)
		if err == nil && !found {
			return o, fault.New(fault.Aborted, "CONFLICT", "the opt-out ended meanwhile; ask again")
		}
		if err != nil {
			return o, err
		}
		return reminderwire.OptOut(&there)
	case err != nil:
		return o, err
	case r.Replayed:
		if err := proto.Unmarshal(r.Answer, &there); err != nil {
			return o, err
		}
		return reminderwire.OptOut(&there)
	}
	return o, s.settle(ctx, r.Revision)
}

// OptOuts gives up to limit opt-outs in order of identifier and after one: of
// one vehicle, or of all for an empty serial.
func (s *Store) OptOuts(ctx context.Context, serial vehicle.Serial, after string, limit int) ([]reminder.OptOut, error) {
	under := optOutsPrefix
	if serial != "" {
		under += string(serial) + "/"
	}
	from := under
	if o, ok := reminder.ParseOptOut(after); ok {
		from = max(from, optOutKey(o)+"\x00")
	}
	var out []reminder.OptOut
	err := s.pages(ctx, from, under, func(value []byte, _ int64) (bool, error) {
		var p reminderv1.OptOut
		if err := proto.Unmarshal(value, &p); err != nil {
			return false, err
		}
		o, err := reminderwire.OptOut(&p)
		out = append(out, o)
		return err == nil && len(out) < limit, err
	})
	return out, err
}

// EndOptOut lets notices go out again. Without an opt-out it is NotFound.
func (s *Store) EndOptOut(ctx context.Context, q Request, o reminder.OptOut) error {
	if _, found, err := s.kv.Lookup(ctx, service, q.ID, q.Payload); err != nil || found {
		return err
	}
	key := optOutKey(o)
	revision, found, err := s.kv.Get(ctx, key, &reminderv1.OptOut{})
	if err != nil {
		return err
	}
	if !found {
		return fault.New(fault.NotFound, "OPT_OUT_NOT_FOUND", "There is no opt-out %s here.", o.ID())
	}
	r, err := s.kv.Commit(ctx, kv.NewTxn().Unchanged(key, revision).Delete(key).
		Once(service, q.ID, q.Payload, &reminderv1.EndOptOutResponse{}))
	if err != nil {
		return err
	}
	return s.settle(ctx, r.Revision)
}
