package reminderjob

import (
	"context"
	"slices"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// aside gives a job for questions, beside the passes of this one: it shares
// what the job is made of, and nothing that a pass remembers.
func (j *Job) aside() *Job { return &Job{Config: j.Config} }

// worldOn is what is known of a day: as it is now for today, else as the
// schedules and the ties will be from its first moment by UTC.
func (j *Job) worldOn(day vehicle.Date) (*world, error) {
	now := j.Clock()
	today := vehicle.DateOf(now.UTC())
	switch {
	case day.IsZero() || day == today:
		return newWorld(now), nil
	case day.Before(today):
		return nil, fault.InvalidField("on_date", day.String(), "today, "+today.String()+", or a day to come")
	}
	w := newWorld(day.Start(time.UTC))
	w.on = day
	return w, nil
}

// DryRunOn tells what the passes of a day would claim, each recipient in their
// own hours, and claims nothing. Of today it is what is left of the day; a zero
// day is this moment's pass.
func (j *Job) DryRunOn(ctx context.Context, day vehicle.Date) (*Report, error) {
	if day.IsZero() {
		return j.aside().DryRun(ctx)
	}
	j, ctx = j.aside(), AsService(ctx)
	w, err := j.lookOn(ctx, day)
	if err != nil {
		return nil, err
	}
	r := &Report{}
	return r, j.each(ctx, w, r, func(v reminder.Vehicle) error { return j.playDay(ctx, w, v, r) })
}

// lookOn asks for everything that comes up from a day on; from this moment on
// for a zero day.
func (j *Job) lookOn(ctx context.Context, day vehicle.Date) (*world, error) {
	if err := j.Store.Sync(ctx); err != nil {
		return nil, err
	}
	w, err := j.worldOn(day)
	if err != nil {
		return nil, err
	}
	if err := j.look(ctx, w); err != nil {
		return nil, err
	}
	return w, j.lookAtYear(ctx, w)
}

// playDay plays through one day of a vehicle: at its first moment, and whenever
// somebody comes into their hours, with what was told before on the day.
func (j *Job) playDay(ctx context.Context, w *world, v reminder.Vehicle, r *Report) error {
	began := w.now
	defer func() { w.now = began }()
	c, err := j.caseOf(ctx, w, v)
	if err != nil {
		return err
	}
	lines := map[string][]reminder.Pending{} // by person, of their own moment
	var claims []reminder.Claim
	var last reminder.Plan
	for _, at := range moments(c.People, began) {
		w.now = at
		if c, err = j.caseOf(ctx, w, v); err != nil {
			return err
		}
		c.Claims = append(c.Claims, claims...)
		last = j.asked(w, c)
		for _, d := range last.Drafts {
			n := d.ToClaimed(d.NoticeID(1), "", nil, at)
			r.claimed(n)
			claims = append(claims, claimsOf(n)...)
		}
		for _, t := range last.Tasks {
			r.Tasks++
			for _, cycle := range t.Cycles {
				claims = append(claims, reminder.Claim{Cycle: cycle, Task: t.Kind, Time: at})
			}
		}
		keepLines(lines, c.People, last.Lines, at, began)
	}
	r.note(reminder.Plan{Held: last.Held, Lines: flat(lines)})
	return nil
}

// moments gives the times of the rest of a day, by UTC, at which there is
// something to look at: the first, and each full hour at which somebody comes
// into their hours, or into another day within them.
func moments(people []reminder.Recipient, from time.Time) []time.Time {
	out := []time.Time{from}
	end := vehicle.DateOf(from.UTC()).AddDays(1).Start(time.UTC)
	for t := from.UTC().Truncate(time.Hour).Add(time.Hour); t.Before(end); t = t.Add(time.Hour) {
		before := t.Add(-time.Hour)
		if slices.ContainsFunc(people, func(r reminder.Recipient) bool {
			return r.Reachable(t) && (!r.Reachable(before) || dayOf(r, t) != dayOf(r, before))
		}) {
			out = append(out, t)
		}
	}
	return out
}

// claimsOf gives the claims that a notice would make.
func claimsOf(n reminder.Notice) []reminder.Claim {
	var out []reminder.Claim
	for _, l := range n.Lines {
		out = append(out, reminder.Claim{
			Cycle: l.Cycle, Stage: l.Stage, Channel: n.Channel, Person: n.Person, Time: n.Claimed, Notice: n.ID,
		})
	}
	return out
}

// keepLines keeps what is said of each person at the moment they come into
// their hours; until then what was said first, and that of nobody.
func keepLines(kept map[string][]reminder.Pending, people []reminder.Recipient, lines []reminder.Pending, at, began time.Time) {
	of := map[string][]reminder.Pending{}
	for _, p := range lines {
		of[p.Person] = append(of[p.Person], p)
	}
	if at.Equal(began) {
		for person, lines := range of {
			kept[person] = lines
		}
		return
	}
	for _, r := range people {
		first := !r.Reachable(began) && r.Reachable(at) && !r.Reachable(at.Add(-time.Hour))
		if first {
			kept[r.Person] = of[r.Person]
		}
	}
}

// flat gives lines in order.
func flat(lines map[string][]reminder.Pending) []reminder.Pending {
	var out []reminder.Pending
	for _, some := range lines {
		out = append(out, some...)
	}
	slices.SortFunc(out, byVehicle)
	return out
}

// Pending gives every item that comes up on a day for every person, of one
// vehicle or of all for an empty serial, with what becomes of it: by vehicle,
// then by day to act on. Of today it is what is so at this moment; of a day to
// come, what is so of each person in their hours.
func (j *Job) Pending(ctx context.Context, serial vehicle.Serial, day vehicle.Date) ([]reminder.Pending, error) {
	j, ctx = j.aside(), AsService(ctx)
	var w *world
	var err error
	if serial == "" {
		w, err = j.lookOn(ctx, day)
	} else {
		w, err = j.lookAtOne(ctx, serial, day)
	}
	if err != nil {
		return nil, err
	}
	r := &Report{}
	err = j.each(ctx, w, r, func(v reminder.Vehicle) error {
		if !w.on.IsZero() {
			return j.playDay(ctx, w, v, r)
		}
		c, err := j.caseOf(ctx, w, v)
		if err == nil {
			r.note(j.asked(w, c))
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	slices.SortFunc(r.Lines, byVehicle)
	return r.Lines, nil
}

// lookAtOne asks for what concerns one vehicle.
func (j *Job) lookAtOne(ctx context.Context, serial vehicle.Serial, day vehicle.Date) (*world, error) {
	if err := j.Store.Sync(ctx); err != nil {
		return nil, err
	}
	w, err := j.worldOn(day)
	if err != nil {
		return nil, err
	}
	j.campaignsNow(ctx, w, serial)
	c, err := j.caseNow(ctx, w, serial)
	if err != nil {
		return nil, err
	}
	w.due = []reminder.Vehicle{c.Vehicle}
	return w, j.lookAtYear(ctx, w)
}
