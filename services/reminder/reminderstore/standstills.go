package reminderstore

import (
	"context"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"
)

// Standstill is what is remembered of one kind of alarm.
type Standstill struct {
	Kind     reminder.AlarmKind
	Since    time.Time // zero while things move
	Task     string    // identifier of the task that the works was given; "" for none yet
	revision int64
}

func standstillKey(kind reminder.AlarmKind) string {
	return standstillsPrefix + strings.ToLower(string(kind))
}

// Standstill gives what is remembered of a kind of alarm.
func (s *Store) Standstill(ctx context.Context, kind reminder.AlarmKind) (Standstill, error) {
	var p reminderv1.Standstill
	revision, _, err := s.kv.Get(ctx, standstillKey(kind), &p)
	k := Standstill{Kind: kind, Task: strings.TrimPrefix(p.GetTask(), "tasks/"), revision: revision}
	if p.GetSinceTime() != nil {
		k.Since = p.GetSinceTime().AsTime()
	}
	return k, err
}

// StandStill remembers since when things stand still, and gives the works the
// task, if there is one now and none was given before.
func (s *Store) StandStill(ctx context.Context, fence kv.Fence, k Standstill, since time.Time, task *reminder.Task) error {
	record := &reminderv1.Standstill{SinceTime: timestamppb.New(since)}
	key := standstillKey(k.Kind)
	t := kv.NewTxn().Fence(fence).Unchanged(key, k.revision)
	switch {
	case k.Task != "":
		record.Task = reminderwire.TaskName(k.Task)
		if k.Since.Equal(since) {
			return nil
		}
	case task != nil:
		record.Task = reminderwire.TaskName(task.ID)
		t.Put(taskKey(task.ID), reminderwire.TaskProto(*task))
	case k.Since.Equal(since):
		return nil
	}
	return s.standstill(ctx, t.Put(key, record))
}

// Moves forgets a standstill and closes its task, if somebody did not before.
func (s *Store) Moves(ctx context.Context, fence kv.Fence, k Standstill, now time.Time) error {
	if k.revision == 0 {
		return nil
	}
	key := standstillKey(k.Kind)
	t := kv.NewTxn().Fence(fence).Unchanged(key, k.revision).Delete(key)
	if k.Task != "" {
		task, err := s.Task(ctx, k.Task)
		if err != nil {
			return err
		}
		if task.Completed.IsZero() {
			task.Completed, task.Outcome = now, "halfshaft: notices go out again"
			if k.Kind == reminder.CertificateEnds {
				task.Outcome = "halfshaft: a new certificate is in use"
			}
			t.Unchanged(taskKey(task.ID), task.Revision).Put(taskKey(task.ID), reminderwire.TaskProto(task.Task))
		}
	}
	return s.standstill(ctx, t)
}

func (s *Store) standstill(ctx context.Context, t *kv.Txn) error {
	r, err := s.kv.Commit(ctx, t)
	if err != nil {
		return err
	}
	return s.settle(ctx, r.Revision)
}
