package reminderjob

import (
	"context"
	"slices"
	"strconv"
	"strings"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
)

// anewFor is for how many days a handbook that failed is still told another way: a
// report that comes back later finds somebody who has asked again (common practice,
// no source).
const anewFor = 30

// handbooksAnew tells of the handbooks that failed by the next way that their
// readers want, each way once.
func (j *Job) handbooksAnew(ctx context.Context, fence kv.Fence, r *Report) error {
	for _, k := range j.Store.Astray() {
		if j.Handbooks == nil || j.now().Sub(k.Claimed).Hours() > 24*anewFor || !failedLast(k, j.Store.Claims(k.Serial)) {
			continue
		}
		if err := j.alone(ctx, k.Serial, func() error { return j.handbookAnew(ctx, fence, k, r) }); err != nil {
			return err
		}
	}
	return nil
}

// failedLast reports whether nothing else tells of the handbook by now.
func failedLast(k reminderstore.Kept, claims []reminder.Claim) bool {
	return !slices.ContainsFunc(claims, func(c reminder.Claim) bool {
		return c.Person == k.Person && c.Cycle == k.Lines[0].Cycle && !c.Failed
	})
}

func (j *Job) handbookAnew(ctx context.Context, fence kv.Fence, k reminderstore.Kept, r *Report) error {
	c, err := j.lastCase(ctx, k.Notice)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(c.People, func(to reminder.Recipient) bool { return to.Person == k.Person })
	if at < 0 {
		return nil // they have the vehicle no more
	}
	way, left := k.NextWay(c.People[at], c.Claims)
	if !left {
		return nil // the works has a task
	}
	item, ok, err := j.handoutAgain(ctx, k.Notice)
	if err != nil || !ok {
		return err
	}
	drafts, _ := c.HandoutTo(item, k.Person, way)
	for _, d := range drafts {
		kept, m, err := j.claim(ctx, fence, d)
		if fault.Is(err, fault.AlreadyExists) {
			continue
		}
		if err != nil {
			return err
		}
		r.claimed(kept.Notice)
		j.metrics.noteClaim(kept.Notice)
		if err := j.deliver(ctx, fence, kept, &m, false, r); err != nil {
			return err
		}
	}
	return nil
}

// handoutAgain is the item of a handbook's notice, of the same round. ok is false
// where the issue is gone.
func (j *Job) handoutAgain(ctx context.Context, n reminder.Notice) (item reminder.Item, ok bool, err error) {
	cycle := n.Lines[0].Cycle
	number, _, _ := strings.Cut(strings.TrimPrefix(cycle, "HANDBOOK."), "-")
	if _, err := strconv.Atoi(number); err != nil {
		return item, false, nil
	}
	issue, err := j.Handbooks.GetHandbookIssue(ctx, &handbookv1.GetHandbookIssueRequest{
		Name: reminderwire.VehicleName(n.Serial) + "/handbookIssues/" + number,
	})
	if f := rpcerr.FromStatus(err); f != nil && f.Kind == fault.NotFound {
		return item, false, nil
	}
	if err != nil {
		return item, false, err
	}
	_, handout, err := reminderwire.Handout(issue)
	if err != nil {
		return item, false, err
	}
	item = reminder.HandoutItem(handout, cycle, n.Lines[0].ActBy)
	item.Cycle = cycle
	return item, true, nil
}
