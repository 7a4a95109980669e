package reminderjob

import (
	"context"
	"crypto/sha256"
	"fmt"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
)

// finish takes up every notice that was claimed and not marked, or is to be
// tried again: a crash, a slow server, a held one.
func (j *Job) finish(ctx context.Context, fence kv.Fence, w *world, r *Report) error {
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(workers)
	for _, kept := range j.Store.Unfinished() {
		if !kept.ReadyToSend(w.now) {
			r.add(&r.Waiting)
			continue
		}
		group.Go(func() error {
			body, err := j.body(ctx, kept.Notice)
			if err == nil {
				err = j.deliver(ctx, fence, kept, body, kept.MayHaveArrived(), r)
			}
			if err != nil && !stops(ctx, err) {
				j.Logger.Error("an open notice did not go out; the next pass tries again", "vehicle", kept.Serial, "error", err)
				return nil
			}
			return err
		})
	}
	return group.Wait()
}

// body opens the message of a notice as it was rendered.
func (j *Job) body(ctx context.Context, n reminder.Notice) ([]byte, error) {
	sealed, err := j.Store.Sealed(ctx, n)
	if err != nil {
		return nil, err
	}
	opened, err := j.Owners.OpenForPerson(ctx, &ownerv1.OpenForPersonRequest{
		Person: reminderwire.PersonName(n.Person), Sealed: sealed, Purpose: SealPurpose(n.ID),
	})
	if err != nil {
		return nil, fmt.Errorf("open the message of %s: %w", n.ID, err)
	}
	if sha256.Sum256(opened.GetPlaintext()) != n.BodySHA256 {
		return nil, fault.New(fault.Internal, "MESSAGE_DIFFERS", "the message of %s is not the one that was claimed", n.ID)
	}
	return opened.GetPlaintext(), nil
}

// Body opens the message of a notice for somebody who may see it.
func (j *Job) Body(ctx context.Context, n reminder.Notice) ([]byte, error) {
	return j.body(asService(ctx), n)
}

// handPatience is how long the others wait for one that is being handed over.
// Nearly every server answers sooner; one that stalls holds the others up for
// this long and no longer.
const handPatience = 3 * time.Second

// deliver looks once more, sends, and marks. One message at a time is between
// the mail server's acceptance and our mark, so that a crash can repeat one and
// not as many as are under way. Only behind a server that keeps silent for
// longer than handPatience may there be more.
func (j *Job) deliver(ctx context.Context, fence kv.Fence, kept reminderstore.Kept, body []byte, mayHaveArrived bool, r *Report) error {
	select {
	case j.hand <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	free := sync.OnceFunc(func() { <-j.hand })
	defer free()
	late := time.AfterFunc(handPatience, free)
	defer late.Stop()
	return j.handOver(ctx, fence, kept, body, mayHaveArrived, r)
}

func (j *Job) handOver(ctx context.Context, fence kv.Fence, kept reminderstore.Kept, body []byte, mayHaveArrived bool, r *Report) error {
	to, verdict, err := j.lastLook(ctx, kept.Notice, mayHaveArrived)
	if err != nil {
		return err
	}
	after, marking := kept.Notice, reminderstore.Marking{}
	switch verdict {
	case reminder.Hold:
		r.add(&r.Held)
		return nil
	case reminder.Silence, reminder.Withdraw:
		after.State = reminder.Silenced
		marking.Withdrawn = verdict == reminder.Withdraw
		r.add(&r.Silenced)
	default:
		after = kept.After(j.Mail.Send(ctx, "", to.Address, body), j.Clock())
		if after.State == reminder.Parked {
			task, err := j.Store.FreeParkedTask(ctx, after, j.Clock())
			if err != nil {
				return err
			}
			marking.Task = &task
			r.add(&r.Tasks)
		}
		r.add(r.countOf(after.State))
	}
	return j.mark(ctx, fence, kept, after, marking)
}

// countOf gives the counter of a state.
func (r *Report) countOf(s reminder.State) *int {
	switch s {
	case reminder.Sent:
		return &r.Sent
	case reminder.Parked:
		return &r.Parked
	}
	return &r.Waiting
}

// lastLook asks, just before sending, whether the work was recorded, whether
// the person is still to be told, and whether it is a time for it. It asks
// anew: what the pass knew when it began may be minutes old.
func (j *Job) lastLook(ctx context.Context, n reminder.Notice, mayHaveArrived bool) (reminder.Recipient, reminder.Verdict, error) {
	v, err := j.vehicleNow(ctx, n.Serial)
	if err != nil {
		return reminder.Recipient{}, 0, err
	}
	w := newWorld(j.Clock())
	if err := j.askTies(ctx, w, reminderwire.VehicleName(n.Serial)); err != nil {
		return reminder.Recipient{}, 0, err
	}
	c, err := j.caseOf(ctx, w, v)
	if err != nil {
		return reminder.Recipient{}, 0, err
	}
	c.Now = j.Clock()
	to, verdict := c.LastLook(n, mayHaveArrived)
	return to, verdict, nil
}

// markPatience is how long a mark is tried after the pass was told to stop:
// the mail server's answer is worth keeping, and the fence keeps a deposed
// leader from writing it.
const markPatience = 20 * time.Second

func (j *Job) mark(ctx context.Context, fence kv.Fence, kept reminderstore.Kept, after reminder.Notice, m reminderstore.Marking) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), markPatience)
	defer cancel()
	return j.Store.Mark(ctx, fence, kept, after, m)
}

// DryRun tells what a pass would claim now, and claims nothing.
func (j *Job) DryRun(ctx context.Context) (*Report, error) {
	ctx = asService(ctx)
	if err := j.Store.Sync(ctx); err != nil {
		return nil, err
	}
	w, err := j.look(ctx)
	if err != nil {
		return nil, err
	}
	r := &Report{}
	for _, v := range w.due {
		c, err := j.caseOf(ctx, w, v)
		if err != nil {
			return nil, err
		}
		plan := reminder.Select(c)
		for _, d := range plan.Drafts {
			r.Notices = append(r.Notices, d.ToClaimed(d.NoticeID(1), "", nil, w.now))
		}
		r.Claimed += len(plan.Drafts)
		r.Held += len(plan.Held)
		r.Tasks += len(plan.Tasks)
	}
	return r, nil
}
