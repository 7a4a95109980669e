package reminderstore

import (
	"cmp"
	"context"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
)

// KeptAnswer is an answer with the revision it was last written at. One that a
// person gave has its words sealed.
type KeptAnswer struct {
	reminder.Answer
	Revision int64
}

func answerKey(serial vehicle.Serial, id string) string {
	return answersPrefix + string(serial) + "/" + id
}

// byTime orders answers as they were given.
func byTime(a, b reminder.Answer) int {
	return cmp.Or(a.Created.Compare(b.Created), cmp.Compare(a.ID, b.ID))
}

// CreateAnswer keeps a new answer, with the task that comes of it, if one does.
// Of one that a person gave it keeps only the words that are sealed.
func (s *Store) CreateAnswer(ctx context.Context, q Request, a reminder.Answer, task *reminder.Task) (KeptAnswer, error) {
	key, record := answerKey(a.Serial, a.ID), reminderwire.KeptAnswerProto(a)
	t := kv.NewTxn().Absent(key).Put(key, record).Once(service, q.ID, q.Payload, record)
	if task != nil {
		t.Absent(taskKey(task.ID)).Put(taskKey(task.ID), reminderwire.TaskProto(*task))
	}
	return s.answered(ctx, t, a)
}

// PutAnswer writes an answer that somebody changed, if it is still at the
// revision, and with it the task that it made, if that changes too.
func (s *Store) PutAnswer(ctx context.Context, q Request, a reminder.Answer, at int64, task *KeptTask) (KeptAnswer, error) {
	key, record := answerKey(a.Serial, a.ID), reminderwire.KeptAnswerProto(a)
	t := kv.NewTxn().Unchanged(key, at).Put(key, record).Once(service, q.ID, q.Payload, record)
	if task != nil {
		t.Unchanged(taskKey(task.ID), task.Revision).Put(taskKey(task.ID), reminderwire.TaskProto(task.Task))
	}
	return s.answered(ctx, t, a)
}

func (s *Store) answered(ctx context.Context, t *kv.Txn, a reminder.Answer) (KeptAnswer, error) {
	r, err := s.kv.Commit(ctx, t)
	if err != nil {
		return KeptAnswer{}, err
	}
	if r.Replayed {
		return parseAnswer(r.Answer, r.Revision)
	}
	return KeptAnswer{a, r.Revision}, s.settle(ctx, r.Revision)
}

// ReplayAnswer gives the answer of a request that was answered before.
func (s *Store) ReplayAnswer(ctx context.Context, q Request) (KeptAnswer, bool, error) {
	r, found, err := s.kv.Lookup(ctx, service, q.ID, q.Payload)
	if err != nil || !found {
		return KeptAnswer{}, false, err
	}
	k, err := parseAnswer(r.Answer, r.Revision)
	return k, err == nil, err
}

// Answer gives one answer, withdrawn or not.
func (s *Store) Answer(ctx context.Context, serial vehicle.Serial, id string) (KeptAnswer, error) {
	var p reminderv1.KeptAnswer
	revision, found, err := s.kv.Get(ctx, answerKey(serial, id), &p)
	if err != nil {
		return KeptAnswer{}, err
	}
	if !found {
		return KeptAnswer{}, NoAnswer(serial, id)
	}
	a, err := reminderwire.KeptAnswer(&p)
	return KeptAnswer{a, revision}, err
}

// NoAnswer is the refusal of an answer that is not there.
func NoAnswer(serial vehicle.Serial, id string) error {
	return fault.New(fault.NotFound, "ANSWER_NOT_FOUND", "There is no answer %s about %s here.", id, serial)
}

// EachAnswer calls each for the answers of a vehicle, or of all for an empty
// serial, withdrawn ones too, by vehicle and in no order within one, from the
// vehicle on that a list stopped at.
func (s *Store) EachAnswer(ctx context.Context, serial, from vehicle.Serial, each func(KeptAnswer) (more bool, err error)) error {
	under := answersPrefix
	if serial != "" {
		under += string(serial) + "/"
	}
	return s.pages(ctx, max(under, answersPrefix+string(from)), under, func(value []byte, revision int64) (bool, error) {
		k, err := parseAnswer(value, revision)
		if err != nil {
			return false, err
		}
		return each(k)
	})
}
