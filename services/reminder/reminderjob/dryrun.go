package reminderjob

import (
	"context"

	"halfshaft/services/reminder"
)

// sendsNothing is said in place of that somebody cannot be reached where the
// process could reach nobody.
const sendsNothing = "This process sends nothing: it was started without a mail server, a gateway for text messages and letters."

// sends reports whether there is any way by which this process tells somebody.
func (j *Job) sends() bool { return j.Mail != nil || j.Text != nil || j.Letters }

// asked is the plan of a case for whoever asks. In a process that sends nothing
// it is not the people's addresses that are at fault, and no pass makes tasks.
func (j *Job) asked(w *world, c reminder.Case) reminder.Plan {
	plan := w.plan(c)
	if !j.sends() {
		unsent(plan.Lines)
		plan.Tasks = nil
	}
	return plan
}

// unsent says of what reaches nobody that nothing is sent.
func unsent(lines []reminder.Pending) {
	for i := range lines {
		if lines[i].Reason == reminder.NoWay {
			lines[i].Sentence = sendsNothing
		}
	}
}

// DryRun tells what a pass would claim now, and claims nothing.
func (j *Job) DryRun(ctx context.Context) (*Report, error) {
	ctx = AsService(ctx)
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
		plan := j.asked(w, c)
		for _, d := range plan.Drafts {
			r.claimed(d.ToClaimed(d.NoticeID(1), "", nil, w.now))
		}
		r.note(plan)
		r.Tasks += len(plan.Tasks)
	}
	return r, nil
}
