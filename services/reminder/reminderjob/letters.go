package reminderjob

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderletter"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/vehicle"
)

// Batch is letters for the printer.
type Batch struct {
	Notices []reminderstore.Kept // in the order of the pages
	PDF     []byte               // nil for no letter
	Waiting int                  // letters that wait beside these
}

// largestBatch bounds a batch, so that it fits a message of the API.
const largestBatch = 900 << 10

// PrintLetters gives up to most letters that wait (the oldest first, and those of
// one pass in the order of vehicles), or those that are named, posted ones too.
// Each that waits is looked at once more: what is done, answered, or no longer
// theirs is silenced and not printed, and what has no address that can be printed
// is parked. What is given out is marked as printed: from then on it may arrive,
// and is told by nothing else.
func (j *Job) PrintLetters(ctx context.Context, ids []string, most int) (*Batch, error) {
	ctx = AsService(ctx)
	for try := 1; ; try++ {
		b, err := j.batch(ctx, ids, most)
		if err == nil {
			err = j.markPrinted(ctx, b)
		}
		if err == nil {
			return b, nil
		}
		if try == mostTries || !fault.Is(err, fault.Aborted) {
			return nil, err
		}
	}
}

// markPrinted marks the letters of a batch that were never printed before.
func (j *Job) markPrinted(ctx context.Context, b *Batch) error {
	var at []int
	var before []reminderstore.Kept
	var after []reminder.Notice
	for i, k := range b.Notices {
		if k.Printed.IsZero() {
			at, before = append(at, i), append(before, k)
			k.Printed = j.now()
			after = append(after, k.Notice)
		}
	}
	if len(before) == 0 {
		return nil
	}
	marked, err := j.Store.MarkPrinted(ctx, before, after)
	for n, k := range marked {
		b.Notices[at[n]] = k
	}
	return err
}

// batch chooses and prints letters, and marks none of them as printed. One that
// cannot be looked at stays out of a batch of all that wait.
func (j *Job) batch(ctx context.Context, ids []string, most int) (*Batch, error) {
	if err := j.Store.Sync(ctx); err != nil {
		return nil, err
	}
	wanted, err := j.letters(ctx, ids)
	if err != nil {
		return nil, err
	}
	b := &Batch{}
	var ready []addressed
	for _, k := range wanted {
		if len(ready) == most {
			break
		}
		l, ok, err := j.lookAtLetter(ctx, k)
		if err != nil {
			if len(ids) > 0 || ctx.Err() != nil {
				return nil, err
			}
			j.Logger.Error("a letter was left out of a batch", "notice", k.ID, "error", err)
		}
		if ok {
			b.Notices, ready = append(b.Notices, k), append(ready, l)
		}
	}
	for len(ready) > 0 {
		if b.PDF, err = j.printed(ready); err != nil {
			return nil, err
		}
		if len(b.PDF) <= largestBatch || len(ready) == 1 {
			break
		}
		ready = ready[:(len(ready)+1)/2]
	}
	b.Notices = b.Notices[:len(ready)]
	for _, k := range j.Store.Unfinished() {
		if k.Channel == reminder.Letter && !slices.ContainsFunc(b.Notices, func(p reminderstore.Kept) bool { return p.ID == k.ID }) {
			b.Waiting++
		}
	}
	return b, nil
}

// letters gives the letters that are named, or all that wait. One that is named
// waits or was posted.
func (j *Job) letters(ctx context.Context, ids []string) ([]reminderstore.Kept, error) {
	var out []reminderstore.Kept
	if len(ids) == 0 {
		for _, k := range j.Store.Unfinished() {
			if k.Channel == reminder.Letter {
				out = append(out, k)
			}
		}
		slices.SortFunc(out, func(a, b reminderstore.Kept) int {
			return cmp.Or(a.Claimed.Truncate(time.Minute).Compare(b.Claimed.Truncate(time.Minute)), cmp.Compare(a.ID, b.ID))
		})
		return out, nil
	}
	for i, id := range ids {
		k, err := j.letterOf(ctx, i, id)
		if err != nil {
			return nil, err
		}
		if !k.Open() && k.State != reminder.Sent {
			return nil, fault.New(fault.FailedPrecondition, "LETTER_NOT_WAITING",
				"The letter %s neither waits nor was posted: it was silenced, parked or told another way.", id)
		}
		out = append(out, k)
	}
	return out, nil
}

// letterOf gives a letter. i is its place in the request.
func (j *Job) letterOf(ctx context.Context, i int, id string) (reminderstore.Kept, error) {
	k, err := j.Store.Notice(ctx, id)
	switch {
	case err != nil:
		return k, err
	case k.Channel != reminder.Letter:
		return k, fault.InvalidField(fmt.Sprintf("notices[%d]", i), "notices/"+id, "a notice by letter")
	}
	return k, nil
}

// lookAtLetter decides, just before printing, whether a letter is still to be
// printed, and gives it with its address.
func (j *Job) lookAtLetter(ctx context.Context, k reminderstore.Kept) (addressed, bool, error) {
	c, err := j.lastCase(ctx, k.Notice)
	if err != nil {
		return addressed{}, false, err
	}
	to, verdict := c.LastLook(k.Notice, k.MayHaveArrived())
	if k.State == reminder.Sent { // printed again: whatever was done since
		var known bool
		if to, known, err = j.person(ctx, newWorld(j.Clock()), k.Person); err != nil || !known {
			return addressed{}, false, err
		}
		verdict = reminder.Send
	}
	if verdict == reminder.Silence || verdict == reminder.Withdraw {
		after := k.Notice
		after.State = reminder.Silenced
		return addressed{}, false, j.markAside(ctx, k, after, reminderstore.Marking{Withdrawn: verdict == reminder.Withdraw})
	}
	if verdict == reminder.Hold {
		return addressed{}, false, fault.New(fault.Unavailable, "CAMPAIGNS_UNKNOWN",
			"Whether the campaign of the letter %s is still open cannot be asked at the moment.", k.ID)
	}
	body, err := j.body(ctx, k.Notice)
	if err != nil {
		return addressed{}, false, err
	}
	l := addressed{k.Notice, to, body}
	paper, err := l.onPaper()
	if err != nil {
		return l, false, err
	}
	if wrong := reminderletter.Check(j.paper(), paper); wrong != nil {
		if !fault.Is(wrong, fault.Invalid) || k.State == reminder.Sent {
			return l, false, wrong
		}
		return l, false, j.unprintable(ctx, k, to, c.Claims)
	}
	err = j.tellIncomplete(ctx, k.Notice, paper)
	return l, err == nil, err
}

// tellIncomplete tells the works, once, of a letter that is printed with "□" in
// place of what the printer has no sign for. A posted one is past that.
func (j *Job) tellIncomplete(ctx context.Context, n reminder.Notice, paper reminderletter.Addressed) error {
	lost, err := reminderletter.Unprintable(paper)
	if err != nil || len(lost) == 0 || !n.Open() {
		return err
	}
	task := n.Task(reminder.LetterIncomplete, 1, j.now())
	err = j.Store.Take(ctx, reminderstore.Request{}, []reminder.Task{task}, nil, nil)
	if fault.Is(err, fault.AlreadyExists) {
		return nil
	}
	return err
}

// unprintable parks a letter whose address does not fit into the window of an
// envelope, or hands it on to the person's next way, and tells the works. One
// that was printed before, at another address, is handed on to nobody.
func (j *Job) unprintable(ctx context.Context, k reminderstore.Kept, to reminder.Recipient, claims []reminder.Claim) error {
	now := j.Clock()
	refused := reminder.Attempt{Outcome: reminder.RefusedIt, Text: "the address does not fit into the window of an envelope"}
	after := k.After(refused, now)
	if k.Printed.IsZero() {
		after = after.Reroute(to, claims)
	}
	task, err := j.Store.FreeTask(ctx, after, reminder.NoticeParked, now)
	if err != nil {
		return err
	}
	return j.markAside(ctx, k, after, reminderstore.Marking{Tasks: []reminder.Task{task}})
}

// markAside marks a notice outside of a pass. When a pass marked it at the same
// moment, what the pass made of it counts.
func (j *Job) markAside(ctx context.Context, k reminderstore.Kept, after reminder.Notice, m reminderstore.Marking) error {
	err := j.Store.MarkReturn(ctx, reminderstore.Request{}, k, after, m, nil)
	if fault.Is(err, fault.Aborted) {
		return nil
	}
	if err == nil {
		j.metrics.noteMark(k.Notice, after)
	}
	return err
}

// MarkPosted says that letters were posted on a day; a zero day is today. What
// was silenced or parked after it was printed is posted all the same. One that
// was posted already is left as it was, and so is one that was never printed and
// waits no longer.
func (j *Job) MarkPosted(ctx context.Context, q reminderstore.Request, ids []string, day vehicle.Date) ([]reminderstore.Kept, error) {
	now := j.now()
	today := vehicle.DateOf(now)
	if day.IsZero() {
		day = today
	}
	if day.After(today) {
		return nil, fault.InvalidField("posted_date", day.String(), "today, "+today.String()+", or before")
	}
	for try := 1; ; try++ {
		all, err := j.posted(ctx, q, ids, day, now)
		if err == nil || try == mostTries || !fault.Is(err, fault.Aborted) {
			return all, err
		}
	}
}

// posted marks the letters that are to be marked, and gives all that were named.
func (j *Job) posted(ctx context.Context, q reminderstore.Request, ids []string, day vehicle.Date, now time.Time) ([]reminderstore.Kept, error) {
	var all, before []reminderstore.Kept
	var after []reminder.Notice
	for i, id := range ids {
		k, err := j.letterOf(ctx, i, id)
		if err != nil {
			return nil, err
		}
		all = append(all, k)
		if !toPost(k.Notice) {
			continue
		}
		if claimed := vehicle.DateOf(k.Claimed.UTC()); day.Before(claimed) {
			return nil, fault.InvalidField("posted_date", day.String(), "not before "+claimed.String()+", when the letter notices/"+id+" was written")
		}
		before, after = append(before, k), append(after, postedOn(k.Notice, day, now))
	}
	if len(before) == 0 {
		return all, nil
	}
	if err := j.Store.MarkPosted(ctx, q, before, after); err != nil {
		return nil, err
	}
	for i := range before {
		j.metrics.noteMark(before[i].Notice, after[i])
	}
	err := j.Store.CountOnDay(ctx, vehicle.DateOf(now), func(p *reminderv1.PassDay) {
		p.Counts = added(p.GetCounts(), &reminderv1.PassCounts{Sent: int32(len(before))})
	})
	if err != nil {
		return nil, err
	}
	for i, k := range all {
		if all[i], err = j.letterOf(ctx, i, k.ID); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// toPost reports whether a letter can be marked as posted: it waits, or it was
// printed before it was silenced or parked.
func toPost(n reminder.Notice) bool {
	return n.Open() || !n.Printed.IsZero() && (n.State == reminder.Silenced || n.State == reminder.Parked)
}

// postedOn gives a letter as it was posted. Of a day that is past no more is
// known than the day.
func postedOn(n reminder.Notice, day vehicle.Date, now time.Time) reminder.Notice {
	at := now
	if day.Before(vehicle.DateOf(now)) {
		at = day.Start(time.UTC).Add(12 * time.Hour)
	}
	if at.Before(n.Claimed) {
		at = n.Claimed
	}
	return n.After(reminder.Attempt{Outcome: reminder.Accepted, Text: "posted"}, at)
}
