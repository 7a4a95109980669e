package reminderjob

import (
	"context"
	"crypto/sha256"
	"fmt"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
)

// parcel is a notice in words, and where it goes.
type parcel struct {
	body []byte
	to   string // the address or number it was made for; "" for a letter
}

// finish takes up every notice that was claimed and not marked, or is to be
// tried again: a crash, a slow server, a held one. Letters wait for the works
// to print and post them, and are silenced like all others.
func (j *Job) finish(ctx context.Context, fence kv.Fence, w *world, r *Report) error {
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(workers)
	for _, kept := range j.Store.Unfinished() {
		if !kept.ReadyToSend(w.now) {
			r.add(&r.Waiting)
			continue
		}
		group.Go(func() error {
			return j.alone(ctx, kept.Serial, func() error {
				if r.stalls(kept.Channel) {
					r.add(&r.Waiting)
					return nil
				}
				return j.deliver(ctx, fence, kept, nil, kept.MayHaveArrived(), r)
			})
		})
	}
	return group.Wait()
}

// parcel opens what is needed to send a mail or a text message.
func (j *Job) parcel(ctx context.Context, n reminder.Notice) (*parcel, error) {
	body, err := j.body(ctx, n)
	if err != nil {
		return nil, err
	}
	to, err := j.sentTo(ctx, n)
	return &parcel{body, to}, err
}

// body opens the message of a notice as it was rendered.
func (j *Job) body(ctx context.Context, n reminder.Notice) ([]byte, error) {
	sealed, err := j.Store.Sealed(ctx, n)
	if err != nil {
		return nil, err
	}
	body, err := j.open(ctx, n.Person, sealed, SealPurpose(n.ID))
	if err != nil {
		return nil, fmt.Errorf("open the message of %s: %w", n.ID, err)
	}
	if sha256.Sum256(body) != n.BodySHA256 {
		return nil, fault.New(fault.Internal, "MESSAGE_DIFFERS", "the message of %s is not the one that was claimed", n.ID)
	}
	return body, nil
}

// Body opens the message of a notice for somebody who may see it: a mail as
// RFC 5322 has it, the words of a text message, or a letter's sheet as JSON.
func (j *Job) Body(ctx context.Context, n reminder.Notice) ([]byte, error) {
	return j.body(AsService(ctx), n)
}

// sentTo opens the address or number that a notice goes or went to; "" where
// none is kept, or where it cannot be opened because its person was erased.
func (j *Job) sentTo(ctx context.Context, n reminder.Notice) (string, error) {
	sealed, err := j.Store.SentTo(ctx, n)
	if err != nil || sealed == nil {
		return "", err
	}
	to, err := j.open(ctx, n.Person, sealed, addressPurpose(n.ID))
	if f := rpcerr.FromStatus(err); f != nil && f.Kind == fault.NotFound {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("open the address of %s: %w", n.ID, err)
	}
	return string(to), nil
}

// Replaced reports whether the address or number that a notice went to is another
// than the person has now. One that cannot be opened any more is not.
func (j *Job) Replaced(ctx context.Context, n reminder.Notice, now *ownerv1.Person) (bool, error) {
	to, err := j.sentTo(AsService(ctx), n)
	if err != nil || to == "" {
		return false, err
	}
	return to != addressOf(reminder.Recipient{Address: now.GetEmail(), Phone: now.GetPhone()}, n.Channel), nil
}

// SealPurpose names what a sealed message belongs to.
func SealPurpose(noticeID string) string { return "notice " + noticeID }

// addressPurpose names what a sealed address belongs to.
func addressPurpose(noticeID string) string { return "address of notice " + noticeID }

func (j *Job) seal(ctx context.Context, person string, plain []byte, purpose string) ([]byte, error) {
	r, err := j.Owners.SealForPerson(ctx, &ownerv1.SealForPersonRequest{
		Person: reminderwire.PersonName(person), Plaintext: plain, Purpose: purpose,
	})
	if err != nil {
		return nil, fmt.Errorf("seal: %w", err)
	}
	return r.GetSealed(), nil
}

func (j *Job) open(ctx context.Context, person string, sealed []byte, purpose string) ([]byte, error) {
	r, err := j.Owners.OpenForPerson(ctx, &ownerv1.OpenForPersonRequest{
		Person: reminderwire.PersonName(person), Sealed: sealed, Purpose: purpose,
	})
	return r.GetPlaintext(), err
}

// handPatience is how long the others wait for one that is being handed over.
// Nearly every server answers sooner; one that stalls holds the others up for
// this long and no longer.
const handPatience = 3 * time.Second

// mostStalled is how many messages of one channel a pass loses to a server that
// keeps us waiting and then takes nothing. What that channel has left is for the
// next pass, so that the other channels have their turn in this one: such a
// server may take ten minutes over each (RFC 5321 section 4.5.3.2.6).
const mostStalled = workers

// stalls reports whether a channel is left to the next pass.
func (r *Report) stalls(c reminder.Channel) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.stalled[c] >= mostStalled
}

// stall counts a message of a channel that a server kept waiting and did not
// take.
func (j *Job) stall(r *Report, c reminder.Channel) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.stalled == nil {
		r.stalled = map[reminder.Channel]int{}
	}
	if r.stalled[c]++; r.stalled[c] == mostStalled {
		j.Logger.Warn("the server keeps us waiting and takes nothing; what is left waits for the next pass", "channel", string(c))
	}
}

// deliver looks once more, sends, and marks. m is opened where it is nil and
// there is something to send. One message at a time is between
// the mail server's acceptance and our mark, so that a crash can repeat one and
// not as many as are under way. Only behind a server that keeps silent for
// longer than handPatience may there be more.
func (j *Job) deliver(ctx context.Context, fence kv.Fence, kept reminderstore.Kept, m *parcel, mayHaveArrived bool, r *Report) error {
	select {
	case j.hand <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	free := sync.OnceFunc(func() { <-j.hand })
	defer free()
	late := time.AfterFunc(j.patience, free)
	defer late.Stop()
	after, err := j.handOver(ctx, fence, kept, m, mayHaveArrived, r)
	if inTime := late.Stop(); !inTime && after.Attempts > kept.Attempts && after.State != reminder.Sent {
		j.stall(r, kept.Channel)
	}
	return err
}

// handOver gives the notice as the attempt left it; as it was without one.
func (j *Job) handOver(ctx context.Context, fence kv.Fence, kept reminderstore.Kept, m *parcel, mayHaveArrived bool, r *Report) (reminder.Notice, error) {
	c, err := j.lastCase(ctx, kept.Notice)
	if err != nil {
		return kept.Notice, err
	}
	to, verdict := c.LastLook(kept.Notice, mayHaveArrived)
	if kept.Purpose == reminder.Changed {
		if _, known, err := j.person(ctx, newWorld(j.Clock()), kept.Person); err != nil {
			return kept.Notice, err
		} else if !known { // erased: nobody can open the message any more
			verdict = reminder.Silence
		}
	}
	after, marking, became := kept.Notice, reminderstore.Marking{}, &r.Silenced
	switch {
	case verdict == reminder.Hold:
		r.add(&r.Held)
		return after, nil
	case verdict == reminder.Silence, verdict == reminder.Withdraw:
		after.State = reminder.Silenced
		marking.Withdrawn = verdict == reminder.Withdraw
	case kept.Channel == reminder.Letter:
		r.add(&r.Letters)
		return after, nil // until it is printed and posted
	default:
		if after, marking, err = j.send(ctx, kept.Notice, m, to, c.Claims); err != nil {
			return after, err
		}
		became = r.countOf(after.State)
	}
	if err := j.mark(ctx, fence, kept, after, marking); err != nil {
		return after, err
	}
	for range marking.Tasks {
		r.add(&r.Tasks)
	}
	r.add(became)
	return after, nil
}

// lastCase gathers what the last look at a notice rests on.
func (j *Job) lastCase(ctx context.Context, n reminder.Notice) (reminder.Case, error) {
	w := newWorld(j.Clock())
	w.scheduleless = !n.Purpose.Ends()
	if n.Purpose == reminder.Safety {
		j.campaignsNow(ctx, w, n.Serial)
	}
	return j.caseNow(ctx, w, n.Serial)
}

// send hands a notice over at the person's present address and gives what
// became of it. One that is refused for good is told another way where one is
// left; either way the works is told.
func (j *Job) send(ctx context.Context, n reminder.Notice, m *parcel, to reminder.Recipient, claims []reminder.Claim) (reminder.Notice, reminderstore.Marking, error) {
	var marking reminderstore.Marking
	var err error
	if m == nil {
		if m, err = j.parcel(ctx, n); err != nil {
			return n, marking, err
		}
	}
	address := addressOf(to, n.Channel)
	if n.Purpose == reminder.Changed { // it is told where they are not written to any more
		address = m.to
	}
	if address != m.to {
		if marking.To, err = j.seal(ctx, n.Person, []byte(address), addressPurpose(n.ID)); err != nil {
			return n, marking, err
		}
	}
	var attempt reminder.Attempt
	switch n.Channel {
	case reminder.Text:
		attempt = j.Text.Send(ctx, n.Reference, address, string(m.body))
	default:
		from := ""
		if j.ReturnPath != nil && n.Reference != "" {
			from = j.ReturnPath.Address(n.Reference)
		}
		attempt = j.Mail.Send(ctx, from, address, m.body)
	}
	after := n.After(attempt, j.Clock()).Reroute(to, claims)
	if n.Purpose != reminder.Changed && (after.State == reminder.Parked || after.State == reminder.Rerouted) {
		task, err := j.Store.FreeTask(ctx, after, j.failed(ctx, n, address, attempt), j.Clock())
		if err != nil {
			return n, marking, err
		}
		marking.Tasks = append(marking.Tasks, task)
	}
	return after, marking, nil
}

// addressOf gives where a channel reaches a person; "" for a letter, which has
// the address in it.
func addressOf(to reminder.Recipient, c reminder.Channel) string {
	switch c {
	case reminder.Mail:
		return to.Address
	case reminder.Text:
		return to.Phone
	}
	return ""
}

// countOf gives the counter of a state.
func (r *Report) countOf(s reminder.State) *int {
	switch s {
	case reminder.Sent:
		return &r.Sent
	case reminder.Parked:
		return &r.Parked
	case reminder.Rerouted:
		return &r.Rerouted
	}
	return &r.Waiting
}

// markPatience is how long a mark is tried after the pass was told to stop:
// the mail server's answer is worth keeping, and the fence keeps a deposed
// leader from writing it.
const markPatience = 20 * time.Second

func (j *Job) mark(ctx context.Context, fence kv.Fence, kept reminderstore.Kept, after reminder.Notice, m reminderstore.Marking) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), markPatience)
	defer cancel()
	err := j.Store.Mark(ctx, fence, kept, after, m)
	if err == nil {
		j.metrics.noteMark(kept.Notice, after)
	}
	return err
}
