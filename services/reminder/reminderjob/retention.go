package reminderjob

import (
	"context"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/vehicle"
)

// RetentionJob is the nightly pass that removes messages and tasks whose time is
// over.
func (j *Job) RetentionJob() leader.Job {
	return leader.Job{
		Name: "retention-notices", Spec: "50 4 * * *",
		Pass: func(ctx context.Context, _ time.Time, fence kv.Fence) error { return j.retain(ctx, fence) },
	}
}

// retainAtOnce is how many records a pass reads before it removes them.
const retainAtOnce = 100

// retain makes one pass. It is selected from what is there: a pass more does
// nothing. A notice or a task that somebody changed meanwhile waits for the
// next one.
func (j *Job) retain(ctx context.Context, fence kv.Fence) error {
	messages, err := remove(j.expiredMessages(ctx), func(k reminderstore.Kept) (string, error) {
		return k.ID, j.Store.DropMessage(ctx, fence, k)
	})
	if err != nil {
		return err
	}
	tasks, err := remove(j.expiredTasks(ctx), func(t reminderstore.KeptTask) (string, error) {
		return t.ID, j.Store.DropTask(ctx, fence, t)
	})
	if err != nil {
		return err
	}
	days, err := j.Store.ExpiredPassDays(ctx, vehicle.DateOf(reminder.MessagesSince(j.now())))
	if err != nil {
		return err
	}
	for _, day := range days {
		if err := j.Store.DropTold(ctx, fence, day); err != nil && !fault.Is(err, fault.Aborted) {
			return err
		}
	}
	if messages+tasks+len(days) > 0 {
		j.Logger.Info("what was past its time was removed", "messages", messages, "tasks", tasks, "days", len(days))
	}
	return nil
}

// expiredMessages gives what lists messages that are past their time.
func (j *Job) expiredMessages(ctx context.Context) func(after string) ([]reminderstore.Kept, error) {
	return func(after string) ([]reminderstore.Kept, error) {
		return j.Store.ExpiredMessages(ctx, j.now(), after, retainAtOnce)
	}
}

// expiredTasks gives what lists tasks that are past their time.
func (j *Job) expiredTasks(ctx context.Context) func(after string) ([]reminderstore.KeptTask, error) {
	return func(after string) ([]reminderstore.KeptTask, error) {
		return j.Store.Tasks(ctx, after, retainAtOnce, func(t reminder.Task) bool { return t.Expired(j.now()) })
	}
}

// remove removes what a list gives, page after page, and counts it.
func remove[T any](list func(after string) ([]T, error), drop func(T) (id string, err error)) (removed int, err error) {
	for after := ""; ; {
		page, err := list(after)
		if err != nil {
			return removed, err
		}
		for _, t := range page {
			id, err := drop(t)
			if err != nil && !fault.Is(err, fault.Aborted) {
				return removed, err
			}
			if err == nil {
				removed++
			}
			after = id
		}
		if len(page) < retainAtOnce {
			return removed, nil
		}
	}
}
