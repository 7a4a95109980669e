package reminderjob

import (
	"context"
	"runtime/debug"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/vehicle"
)

// workers is how many messages are under way at once: a server that is slow to
// answer one holds up few others.
const workers = 8

// tell selects, claims and sends, vehicle by vehicle. wanted says whether there
// was anything to send; what is held for the hours counts, or every night would
// begin the day without mail anew.
func (j *Job) tell(ctx context.Context, fence kv.Fence, w *world, r *Report) (wanted bool, err error) {
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(workers)
	each := func(v reminder.Vehicle) (err error) {
		defer recovered(&err)
		c, err := j.caseOf(ctx, w, v)
		if err != nil {
			return err
		}
		plan := w.plan(c)
		wanted = wanted || len(plan.Drafts)+len(plan.Held) > 0
		r.note(plan)
		if len(plan.Drafts)+len(plan.Tasks) > 0 {
			group.Go(func() error { return j.alone(ctx, v.Serial, func() error { return j.carryOut(ctx, fence, plan, r) }) })
		}
		return nil
	}
	j.fairly(w.due)
	for _, v := range w.due {
		if err := each(v); err != nil {
			if stops(ctx, err) {
				break
			}
			j.Logger.Error("a vehicle was passed over", "vehicle", v.Serial, "error", err)
		}
	}
	return wanted, group.Wait()
}

// alone does something about one vehicle. Whatever goes wrong with it stops no
// other vehicle's, unless the pass is to stop.
func (j *Job) alone(ctx context.Context, serial vehicle.Serial, do func() error) (err error) {
	func() {
		defer recovered(&err)
		err = do()
	}()
	if err == nil || stops(ctx, err) {
		return err
	}
	j.Logger.Error("a vehicle's notices did not go out; the next pass tries again", "vehicle", serial, "error", err)
	return nil
}

// recovered makes an error of a panic. Its words are left out, for they may
// hold what is personal; the stack does not.
func recovered(err *error) {
	if cause := recover(); cause != nil {
		*err = fault.New(fault.Internal, "PANIC", "a panic of type %T: %s", cause, debug.Stack())
	}
}

// fairly puts the vehicles first that nobody was told about for the longest
// time, and else leaves them as they are, the most urgent first: where somebody
// has more vehicles than they may have messages, each has its turn.
func (j *Job) fairly(due []reminder.Vehicle) {
	told := j.Store.LastTold(due)
	slices.SortStableFunc(due, func(a, b reminder.Vehicle) int { return told[a.Serial].Compare(told[b.Serial]) })
}

// carryOut makes the tasks and sends the notices of one vehicle.
func (j *Job) carryOut(ctx context.Context, fence kv.Fence, plan reminder.Plan, r *Report) error {
	for _, t := range plan.Tasks {
		err := j.Store.ClaimTask(ctx, fence, t, j.Clock())
		switch {
		case err == nil:
			r.add(&r.Tasks)
		case stops(ctx, err):
			return err
		case !fault.Is(err, fault.AlreadyExists):
			j.Logger.Error("a task was not made; the next pass makes it", "vehicle", t.Serial, "error", err)
		}
	}
	for _, d := range plan.Drafts {
		if r.stalls(d.Channel) {
			continue // the next pass tells it
		}
		kept, m, err := j.claim(ctx, fence, d)
		if err == nil {
			r.claimed(kept.Notice)
			j.metrics.noteClaim(kept.Notice)
			err = j.deliver(ctx, fence, kept, &m, false, r)
		}
		switch {
		case err == nil || fault.Is(err, fault.AlreadyExists):
		case stops(ctx, err):
			return err
		default:
			j.Logger.Error("a notice did not go out; the next pass tries again", "vehicle", d.Vehicle.Serial, "error", err)
		}
	}
	return nil
}

// claim renders a draft once and for all and claims its stages with the bytes.
func (j *Job) claim(ctx context.Context, fence kv.Fence, d reminder.Draft) (reminderstore.Kept, parcel, error) {
	id, err := j.Store.FreeID(ctx, d)
	if err != nil {
		return reminderstore.Kept{}, parcel{}, err
	}
	n, m, sealed, err := j.prepare(ctx, d, id)
	if err != nil {
		return reminderstore.Kept{}, parcel{}, err
	}
	kept, err := j.Store.Claim(ctx, fence, n, sealed)
	return kept, m, err
}

// prepare renders a draft and seals what is kept of it.
func (j *Job) prepare(ctx context.Context, d reminder.Draft, id string) (n reminder.Notice, m parcel, sealed reminderstore.Sealed, err error) {
	if n, m, err = j.render(ctx, d, id, j.Clock()); err != nil {
		return n, m, sealed, err
	}
	if sealed.Body, err = j.seal(ctx, d.To.Person, m.body, SealPurpose(id)); err != nil || m.to == "" {
		return n, m, sealed, err
	}
	sealed.To, err = j.seal(ctx, d.To.Person, []byte(m.to), addressPurpose(id))
	return n, m, sealed, err
}

// dayOf gives the civil day of a moment by a person's clock.
func dayOf(r reminder.Recipient, t time.Time) vehicle.Date { return vehicle.DateOf(r.Local(t)) }
