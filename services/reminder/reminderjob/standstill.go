package reminderjob

import (
	"context"
	"slices"
	"time"

	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/vehicle"
)

// pass is how a pass went, beside its report.
type pass struct {
	began  time.Time
	wanted bool  // there was something to send
	err    error // what ended it early; nil for nothing
}

// endPass keeps what a pass came to, alarms, and gives the error of the pass.
func (j *Job) endPass(ctx context.Context, fence kv.Fence, r *Report, p pass) error {
	if p.err != nil && stops(ctx, p.err) {
		return p.err
	}
	err := p.err
	if err == nil {
		err = j.alarm(ctx, fence, r, p.wanted)
	}
	if keep := j.keepDay(ctx, fence, r, p.began); err == nil {
		err = keep
	}
	j.metrics.notePass(j.Clock().Sub(p.began), r.Alarms)
	return err
}

// standstills are the kinds of alarms, each remembered from pass to pass.
var standstills = []reminder.AlarmKind{reminder.Backlog, reminder.NothingSent, reminder.Unposted, reminder.CertificateEnds}

// alarm tells the log, and the works by a task, when notices stand still. One
// standstill makes one task, over a restart and a change of leaders too, and
// the task closes itself when notices go out again.
func (j *Job) alarm(ctx context.Context, fence kv.Fence, r *Report, wanted bool) error {
	kept := map[reminder.AlarmKind]reminderstore.Standstill{}
	for _, kind := range standstills {
		var err error
		if kept[kind], err = j.Store.Standstill(ctx, kind); err != nil {
			return err
		}
	}
	now := j.Clock()
	p := reminder.Pass{Wanted: wanted, Sent: r.Sent}
	open := j.Store.Unfinished()
	for _, n := range open { // the oldest first
		switch {
		case n.Channel == reminder.Letter && p.Letter.IsZero():
			p.Letter = n.Claimed
		case n.Channel != reminder.Letter && p.Oldest.IsZero():
			p.Oldest, p.Wanted = n.Claimed, true
		}
	}
	watch := reminder.Watch{Since: kept[reminder.NothingSent].Since}
	r.Alarms = watch.After(p, now)
	if j.Ending != nil {
		if sentence, since, urgent := j.Ending(); urgent {
			r.Alarms = append(r.Alarms, reminder.Alarm{Kind: reminder.CertificateEnds, Sentence: sentence, Since: since})
		}
	}
	j.metrics.backlog.since.Store(&watch.Since)
	for _, kind := range standstills {
		var since time.Time
		if kind == reminder.NothingSent {
			since = watch.Since
		}
		var task *reminder.Task
		if at := slices.IndexFunc(r.Alarms, func(a reminder.Alarm) bool { return a.Kind == kind }); at >= 0 {
			alarm := r.Alarms[at]
			j.Logger.Error("alarm: " + alarm.Sentence)
			since = alarm.Since
			serial := waits(open, r)
			if serial == "" && kind == reminder.CertificateEnds && len(r.Lines) > 0 {
				serial = r.Lines[0].Serial // it is no vehicle's in particular
			}
			if serial != "" {
				t := alarm.Task(serial, now)
				task = &t
			}
		}
		if err := j.remember(ctx, fence, kept[kind], since, task, r); err != nil {
			return err
		}
	}
	return nil
}

// remember keeps a standstill, or ends it when things move.
func (j *Job) remember(ctx context.Context, fence kv.Fence, k reminderstore.Standstill, since time.Time, task *reminder.Task, r *Report) error {
	if since.IsZero() {
		return j.Store.Moves(ctx, fence, k, j.Clock())
	}
	if k.Task == "" && task != nil {
		r.add(&r.Tasks)
	}
	return j.Store.StandStill(ctx, fence, k, since, task)
}

// waits gives a vehicle that waits: that of the oldest open notice, or one of
// which something is to be told; "" for none.
func waits(open []reminderstore.Kept, r *Report) vehicle.Serial {
	if len(open) > 0 {
		return open[0].Serial
	}
	for _, p := range r.Lines {
		if p.Reason == reminder.Told || p.Reason == reminder.OutsideHours {
			return p.Serial
		}
	}
	return ""
}

// Alarms gives in sentences what stood still when the last pass ended, for
// which the works has a task.
func (j *Job) Alarms(ctx context.Context) ([]string, error) {
	var out []string
	for _, kind := range standstills {
		k, err := j.Store.Standstill(ctx, kind)
		if err != nil {
			return nil, err
		}
		if k.Task == "" {
			continue
		}
		task, err := j.Store.Task(ctx, k.Task)
		if err != nil {
			return nil, err
		}
		out = append(out, task.Text)
	}
	return out, nil
}
