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

// Sealed is what stands beside a notice, sealed under its person's key.
type Sealed struct {
	Body []byte
	To   []byte // the address or number that it goes to; nil for a letter, which has it in its body
}

// Claim makes a notice with its sealed message and the claim of each line, if
// none of these is there and the fence holds. AlreadyExists means that one of
// the stages is told: there is nothing to send.
func (s *Store) Claim(ctx context.Context, fence kv.Fence, n reminder.Notice, sealed Sealed) (Kept, error) {
	r, err := s.kv.Commit(ctx, sealed.put(kv.NewTxn().Fence(fence), n))
	if err != nil {
		return Kept{}, err
	}
	return Kept{n, r.Revision}, s.settle(ctx, r.Revision)
}

// put puts a notice with its claims into a transaction that holds only where
// none of them is there.
func (sealed Sealed) put(t *kv.Txn, n reminder.Notice) *kv.Txn {
	key := noticeKey(n.Serial, n.ID)
	t.Absent(key).Put(key, reminderwire.NoticeProto(n)).PutBytes(bodyKey(n.Serial, n.ID), sealed.Body)
	if sealed.To != nil {
		t.PutBytes(sentToKey(n.Serial, n.ID), sealed.To)
	}
	if n.Reference != "" {
		t.Put(referencesPrefix+n.Reference, &reminderv1.Notice{Name: reminderwire.NoticeName(n.ID)})
	}
	for _, l := range n.Lines {
		t.Absent(claimKey(n, l)).Put(claimKey(n, l), reminderwire.ClaimProto(n))
	}
	return t
}

// Marking is what goes with a mark.
type Marking struct {
	Withdrawn bool // the claims are given up
	Tasks     []reminder.Task
	OptOut    *reminder.OptOut // one that is there already is left as it is
	To        []byte           // where it went, sealed, where that is another address than at the claim
}

// Nothing reports whether there is nothing to write beside the notice.
func (m Marking) Nothing() bool {
	return !m.Withdrawn && len(m.Tasks) == 0 && m.OptOut == nil && m.To == nil
}

// put puts what became of a notice, and what goes with it, into a transaction:
// of one that is rerouted, its claims as failed.
func (m Marking) put(t *kv.Txn, k Kept, after reminder.Notice) *kv.Txn {
	key := noticeKey(k.Serial, k.ID)
	t.Unchanged(key, k.Revision).Put(key, reminderwire.NoticeProto(after))
	for _, l := range k.Lines {
		switch {
		case m.Withdrawn:
			t.Delete(claimKey(k.Notice, l))
		case after.State == reminder.Rerouted && k.State != reminder.Rerouted:
			t.Put(claimKey(k.Notice, l), reminderwire.ClaimProto(after))
		}
	}
	for _, task := range m.Tasks {
		t.Absent(taskKey(task.ID)).Put(taskKey(task.ID), reminderwire.TaskProto(task))
	}
	if m.OptOut != nil {
		t.Put(optOutKey(*m.OptOut), reminderwire.OptOutProto(*m.OptOut))
	}
	if m.To != nil {
		t.PutBytes(sentToKey(k.Serial, k.ID), m.To)
	}
	return t
}

// Mark writes what became of a notice that was handed over, with what goes with
// it, in one transaction.
//
// The server's answer must not be forgotten because the store was slow: when it
// is not known whether the mark was made, it is looked up and made again until
// ctx ends. Nor because something came back of the notice meanwhile, as a
// receipt does that is quicker than we are: see merged.
func (s *Store) Mark(ctx context.Context, fence kv.Fence, k Kept, after reminder.Notice, m Marking) error {
	for pause := 50 * time.Millisecond; ; pause = min(2*pause, 5*time.Second) {
		r, err := s.kv.Commit(ctx, m.put(kv.NewTxn().Fence(fence), k, after))
		switch {
		case err == nil:
			return s.settle(ctx, r.Revision)
		case errors.Is(err, kv.ErrNotLeader):
			return err
		case !fault.Is(err, fault.Unavailable) && !fault.Is(err, fault.Aborted):
			return err
		}
		if now, readErr := s.Notice(ctx, k.ID); readErr == nil {
			if proto.Equal(reminderwire.NoticeProto(now.Notice), reminderwire.NoticeProto(after)) {
				return nil // it was made after all
			}
			var ok bool
			if after, m, ok = merged(k, now, after, m); !ok {
				return err
			}
			k = now
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

// merged gives the mark of a notice that was k when it was handed over and is
// now another, because something came back of it. Where the return decided its
// state, that stays, and the mark adds what the server said. false: somebody
// else marked it.
func merged(k, now Kept, after reminder.Notice, m Marking) (reminder.Notice, Marking, bool) {
	if now.Revision == k.Revision {
		return after, m, true
	}
	if now.Attempts != k.Attempts || !now.Printed.Equal(k.Printed) || !now.Retried.Equal(k.Retried) || now.State == reminder.Silenced {
		return after, m, false
	}
	if now.State == k.State {
		after.Returns = now.Returns
		return after, m, true
	}
	decided := now.Notice
	decided.Attempts, decided.ServerAnswer, decided.Sent, decided.NextAttempt = after.Attempts, after.ServerAnswer, after.Sent, time.Time{}
	return decided, Marking{To: m.To}, true
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

// EndTask closes a task for a job, if it is still at the revision and the fence
// holds.
func (s *Store) EndTask(ctx context.Context, fence kv.Fence, t reminder.Task, at int64) error {
	key := taskKey(t.ID)
	r, err := s.kv.Commit(ctx, kv.NewTxn().Fence(fence).Unchanged(key, at).Put(key, reminderwire.TaskProto(t)))
	if err != nil {
		return err
	}
	return s.settle(ctx, r.Revision)
}

// FreeTask gives the task of a kind for a notice under the first identifier
// that no task has.
func (s *Store) FreeTask(ctx context.Context, n reminder.Notice, kind reminder.TaskKind, now time.Time) (reminder.Task, error) {
	for nth := 1; ; nth++ {
		task := n.Task(kind, nth, now)
		_, found, err := s.kv.Get(ctx, taskKey(task.ID), &reminderv1.Task{})
		if err != nil || !found {
			return task, err
		}
	}
}
