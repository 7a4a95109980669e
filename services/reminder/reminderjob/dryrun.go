package reminderjob

import (
	"context"
)

// DryRun tells what a pass would claim now, and claims nothing.
func (j *Job) DryRun(ctx context.Context) (*Report, error) {
	ctx = asService(ctx)
	if err := j.Store.Sync(ctx); err != nil {
		return nil, err
	}
	w := newWorld(j.Clock())
	if err := j.look(ctx, w); err != nil {
		return nil, err
	}
	if err := j.lookAtYear(ctx, w); err != nil {
		return nil, err
	}
	r := &Report{}
	for _, v := range w.due {
		c, err := j.caseOf(ctx, w, v)
		if err != nil {
			return nil, err
		}
		plan := w.plan(c)
		for _, d := range plan.Drafts {
			r.claimed(d.ToClaimed(d.NoticeID(1), "", nil, w.now))
		}
		r.note(plan)
		r.Tasks += len(plan.Tasks)
	}
	return r, nil
}
