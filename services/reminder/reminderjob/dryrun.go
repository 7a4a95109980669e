package reminderjob

import (
	"context"

	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
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

// unreadable is what is said of a vehicle that passes pass over; which record it
// is, the log says.
const unreadable = "A pass passes it over: something of it, or of the people tied to it, cannot be read."

// each does something about every vehicle that comes up, in the order in which
// a pass takes them. One of which something cannot be read stops no other: it
// is passed over, as by a pass, and has a line that says so. Only when a
// service cannot be reached is there nothing to say.
func (j *Job) each(ctx context.Context, w *world, r *Report, do func(reminder.Vehicle) error) error {
	j.fairly(w.due)
	for _, v := range w.due {
		err := func() (err error) {
			defer recovered(&err)
			return do(v)
		}()
		if err == nil {
			continue
		}
		if stops(ctx, err) || outOfReach(err) {
			return err
		}
		j.Logger.Error("a vehicle was passed over in what passes would tell", "vehicle", v.Serial, "error", err)
		r.note(reminder.Plan{Lines: []reminder.Pending{{Serial: v.Serial, Reason: reminder.Unreadable, Sentence: unreadable}}})
	}
	return nil
}

// outOfReach reports whether an error is that of a service, or of the store,
// which could not be asked.
func outOfReach(err error) bool {
	return fault.Is(err, fault.Unavailable) || rpcerr.FromStatus(err).Kind == fault.Unavailable
}

// DryRun tells what a pass would claim now, and claims nothing.
func (j *Job) DryRun(ctx context.Context) (*Report, error) {
	ctx = AsService(ctx)
	w, err := j.lookOn(ctx, vehicle.Date{})
	if err != nil {
		return nil, err
	}
	r := &Report{}
	return r, j.each(ctx, w, r, func(v reminder.Vehicle) error {
		c, err := j.caseOf(ctx, w, v)
		if err != nil {
			return err
		}
		plan := j.asked(w, c)
		for _, d := range plan.Drafts {
			r.claimed(d.ToClaimed(d.NoticeID(1), "", nil, w.now))
		}
		r.note(plan)
		r.Tasks += len(plan.Tasks)
		return nil
	})
}
