package reminderstore

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"
)

// Store is the reminder's keys. It is safe for concurrent use.
type Store struct {
	kv       *kv.Store
	group    *projection.Group
	follower *projection.Follower
	state    *state
}

// Open loads the projection and registers it with the group.
func Open(ctx context.Context, store *kv.Store, group *projection.Group, logger *slog.Logger) (*Store, error) {
	st := newState()
	f, err := projection.Start(ctx, store.Client(), prefix, st, logger)
	if err != nil {
		return nil, err
	}
	group.Add(service, f)
	return &Store{kv: store, group: group, follower: f, state: st}, nil
}

// Close ends the projection.
func (s *Store) Close() { s.follower.Close() }

// Sync returns when the projection holds everything that was committed before
// the call, by any process. A pass begins with it: what another leader marked
// must not look unfinished here.
func (s *Store) Sync(ctx context.Context) error {
	resp, err := s.kv.Client().Get(ctx, prefix)
	if err != nil {
		return &fault.Error{
			Kind: fault.Unavailable, Reason: "STORE_OUT_OF_REACH", Message: "the store gave no answer",
			RetryAfter: 2 * time.Second, Cause: err,
		}
	}
	return s.follower.Wait(ctx, resp.Header.Revision)
}

// settle waits until this process has seen a write.
func (s *Store) settle(ctx context.Context, revision int64) error {
	return s.group.Wait(ctx, service, revision)
}

// FreeID gives the first identifier for the draft's notice that no notice has.
func (s *Store) FreeID(ctx context.Context, d reminder.Draft) (string, error) {
	for nth := 1; ; nth++ {
		id := d.NoticeID(nth)
		_, found, err := s.kv.Get(ctx, noticeKey(d.Vehicle.Serial, id), &reminderv1.Notice{})
		if err != nil || !found {
			return id, err
		}
	}
}

// Claim makes a notice with its sealed message and the claim of each line, if
// none of these is there and the fence holds. AlreadyExists means that one of
// the stages is told: there is nothing to send.
func (s *Store) Claim(ctx context.Context, fence kv.Fence, n reminder.Notice, sealed []byte) (Kept, error) {
	key := noticeKey(n.Serial, n.ID)
	t := kv.NewTxn().Fence(fence).Absent(key).Put(key, reminderwire.NoticeProto(n)).
		PutBytes(bodyKey(n.Serial, n.ID), sealed)
	claim := &reminderv1.Notice{Name: reminderwire.NoticeName(n.ID), ClaimTime: timestamppb.New(n.Claimed)}
	for _, l := range n.Lines {
		t.Absent(claimKey(n, l)).Put(claimKey(n, l), claim)
	}
	r, err := s.kv.Commit(ctx, t)
	if err != nil {
		return Kept{}, err
	}
	return Kept{n, r.Revision}, s.settle(ctx, r.Revision)
}

// Mark writes what became of a notice, if nobody wrote it since, with the task
// that comes of it, if one does. Open claims that are given up with a
// withdrawn notice go in the same transaction.
//
// The mail server's answer must not be forgotten because the store was slow:
// when it is not known whether the mark was made, it is looked up and made
// again until ctx ends.
func (s *Store) Mark(ctx context.Context, fence kv.Fence, k Kept, after reminder.Notice, m Marking) error {
	key := noticeKey(k.Serial, k.ID)
	record := reminderwire.NoticeProto(after)
	for pause := 50 * time.Millisecond; ; pause = min(2*pause, 5*time.Second) {
		t := kv.NewTxn().Fence(fence).Unchanged(key, k.Revision).Put(key, record)
		if m.Withdrawn {
			for _, l := range k.Lines {
				t.Delete(claimKey(k.Notice, l))
			}
		}
		if m.Task != nil {
			t.Absent(taskKey(m.Task.ID)).Put(taskKey(m.Task.ID), reminderwire.TaskProto(*m.Task))
		}
		r, err := s.kv.Commit(ctx, t)
		if err == nil {
			return s.settle(ctx, r.Revision)
		}
		if !fault.Is(err, fault.Unavailable) {
			return err
		}
		var now reminderv1.Notice
		if _, found, readErr := s.kv.Get(ctx, key, &now); readErr == nil && found && proto.Equal(&now, record) {
			return nil // it was made after all
		}
		timer := time.NewTimer(pause)
		select {
		case <-ctx.Done():
			timer.Stop()
			return errors.Join(err, ctx.Err())
		case <-timer.C:
		}
	}
}

// Marking is what goes with a mark.
type Marking struct {
	Withdrawn bool // the claims are given up
	Task      *reminder.Task
}

// ClaimTask makes a task and the claims of its rounds. AlreadyExists means that
// the works was told of one of them.
func (s *Store) ClaimTask(ctx context.Context, fence kv.Fence, d reminder.TaskDraft, now time.Time) error {
	task := d.Task(now)
	t := kv.NewTxn().Fence(fence).Absent(taskKey(task.ID)).Put(taskKey(task.ID), reminderwire.TaskProto(task))
	claim := &reminderv1.Task{Name: reminderwire.TaskName(task.ID), CreateTime: timestamppb.New(now)}
	for _, cycle := range d.Cycles {
		key := taskClaimKey(d.Serial, cycle, d.Kind)
		t.Absent(key).Put(key, claim)
	}
	r, err := s.kv.Commit(ctx, t)
	if err != nil {
		return err
	}
	return s.settle(ctx, r.Revision)
}

// FreeParkedTask gives the task for a parked notice under the first identifier
// that no task has.
func (s *Store) FreeParkedTask(ctx context.Context, n reminder.Notice, now time.Time) (reminder.Task, error) {
	for nth := 1; ; nth++ {
		task := n.ParkedTask(nth, now)
		_, found, err := s.kv.Get(ctx, taskKey(task.ID), &reminderv1.Task{})
		if err != nil || !found {
			return task, err
		}
	}
}
