package reminderjob

import (
	"context"
	"maps"
	"slices"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// searchOwners gives the works a task for each vehicle of a campaign of which
// nobody knows whose it is, and closes it once the owner is known or nothing is
// to be done any more. Where the bulletins could not be asked nothing changes.
func (j *Job) searchOwners(ctx context.Context, fence kv.Fence, w *world, r *Report) error {
	if w.unasked[anyVehicle] {
		return nil
	}
	claims := j.Store.CampaignClaims()
	for _, serial := range slices.Sorted(maps.Keys(w.ownerless)) {
		for _, o := range w.ownerless[serial] {
			if slices.ContainsFunc(claims[serial], func(c reminder.Claim) bool { return c.Task == reminder.FindOwner && c.Cycle == o.Cycle() }) {
				continue
			}
			err := j.Store.ClaimTask(ctx, fence, o.Task(), j.now())
			switch {
			case err == nil:
				r.add(&r.Tasks)
			case stops(ctx, err):
				return err
			case !fault.Is(err, fault.AlreadyExists):
				j.Logger.Error("a task to find an owner was not made; the next pass makes it", "vehicle", serial, "error", err)
			}
		}
	}
	for _, serial := range slices.Sorted(maps.Keys(claims)) {
		for _, c := range claims[serial] {
			if c.Task != reminder.FindOwner || w.unasked[serial] || w.searched(serial, c.Cycle) {
				continue
			}
			if err := j.endSearch(ctx, fence, w, serial, c.Cycle); err != nil {
				if stops(ctx, err) {
					return err
				}
				j.Logger.Error("a task to find an owner was not closed; the next pass closes it", "vehicle", serial, "error", err)
			}
		}
	}
	return nil
}

// searched reports whether the owner is still looked for.
func (w *world) searched(serial vehicle.Serial, cycle string) bool {
	return slices.ContainsFunc(w.ownerless[serial], func(o reminder.Ownerless) bool { return o.Cycle() == cycle })
}

// endSearch closes the task of a search, unless somebody did before.
func (j *Job) endSearch(ctx context.Context, fence kv.Fence, w *world, serial vehicle.Serial, cycle string) error {
	draft := reminder.TaskDraft{Serial: serial, Kind: reminder.FindOwner, Cycles: []string{cycle}}
	id := draft.ID()
	if j.reported.ended[id] {
		return nil
	}
	task, err := j.Store.Task(ctx, id)
	if err != nil && !fault.Is(err, fault.NotFound) {
		return err
	}
	if err == nil && task.Completed.IsZero() {
		task.Completed, task.Outcome = j.now(), "halfshaft: nothing is to be done about the campaign any more"
		if slices.Contains(w.listed[serial], reminder.SearchedFor(cycle)) {
			task.Outcome = "halfshaft: the campaign knows the owner again, or where the vehicle went"
		}
		if err := j.Store.EndTask(ctx, fence, task.Task, task.Revision); err != nil {
			return err
		}
	}
	j.reported.end(id)
	return nil
}
