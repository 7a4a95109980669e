package reminderjob

import (
	"context"
	"crypto/rand"
	"fmt"
	"net/url"
	"strings"
	"time"

	"golang.org/x/sync/errgroup"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/links"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/remindermail"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/reminder/reminderwords"
)

// workers is how many messages are under way at once: a server that is slow to
// answer one holds up few others.
const workers = 8

// tell selects, claims and sends, vehicle by vehicle. wanted says whether there
// was anything to send; what is held for the hours counts, or every night would
// begin the day without mail anew.
func (j *Job) tell(ctx context.Context, fence kv.Fence, w *world, r *Report) (wanted bool, err error) {
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(workers)
	for _, v := range w.due {
		c, err := j.caseOf(ctx, w, v)
		if err != nil {
			if stops(ctx, err) {
				break
			}
			j.Logger.Error("a vehicle was passed over", "vehicle", v.Serial, "error", err)
			continue
		}
		plan := reminder.Select(c)
		wanted = wanted || len(plan.Drafts)+len(plan.Held) > 0
		for range plan.Held {
			r.add(&r.Held)
		}
		group.Go(func() error { return j.carryOut(ctx, fence, plan, r) })
	}
	return wanted, group.Wait()
}

// carryOut makes the tasks and sends the notices of one vehicle.
func (j *Job) carryOut(ctx context.Context, fence kv.Fence, plan reminder.Plan, r *Report) error {
	for _, t := range plan.Tasks {
		err := j.Store.ClaimTask(ctx, fence, t, j.Clock())
		switch {
		case err == nil:
			r.add(&r.Tasks)
		case stops(ctx, err):
			return err
		case !fault.Is(err, fault.AlreadyExists):
			j.Logger.Error("a task was not made; the next pass makes it", "vehicle", t.Serial, "error", err)
		}
	}
	for _, d := range plan.Drafts {
		kept, body, err := j.claim(ctx, fence, d)
		if err == nil {
			r.mu.Lock()
			r.Claimed++
			r.Notices = append(r.Notices, kept.Notice)
			r.mu.Unlock()
			err = j.deliver(ctx, fence, kept, body, false, r)
		}
		switch {
		case err == nil || fault.Is(err, fault.AlreadyExists):
		case stops(ctx, err):
			return err
		default:
			j.Logger.Error("a notice did not go out; the next pass tries again", "vehicle", d.Vehicle.Serial, "error", err)
		}
	}
	return nil
}

// claim renders a draft once and for all and claims its stages with the bytes.
func (j *Job) claim(ctx context.Context, fence kv.Fence, d reminder.Draft) (reminderstore.Kept, []byte, error) {
	id, err := j.Store.FreeID(ctx, d)
	if err != nil {
		return reminderstore.Kept{}, nil, err
	}
	now := j.Clock()
	_, domain, _ := strings.Cut(j.Works.From, "@")
	letter := reminderwords.Letter{Works: j.Works, Draft: d, MessageID: reminder.MessageID(id, domain), Time: now}
	if letter.Parts, err = j.parts(ctx, d); err != nil {
		return reminderstore.Kept{}, nil, err
	}
	if letter.Links.Odometer, err = j.link(links.Odometer, d, now.Add(odometerLinkLasts)); err != nil {
		return reminderstore.Kept{}, nil, err
	}
	if letter.Links.Stop, err = j.link(links.Unsubscribe, d, now.Add(stopLinkLasts)); err != nil {
		return reminderstore.Kept{}, nil, err
	}
	words, err := j.Words.Mail(letter)
	if err != nil {
		return reminderstore.Kept{}, nil, fmt.Errorf("render: %w", err)
	}
	body, err := remindermail.Compose(letter, words)
	if err != nil {
		return reminderstore.Kept{}, nil, fmt.Errorf("render: %w", err)
	}
	sealed, err := j.Owners.SealForPerson(ctx, &ownerv1.SealForPersonRequest{
		Person: reminderwire.PersonName(d.To.Person), Plaintext: body, Purpose: SealPurpose(id),
	})
	if err != nil {
		return reminderstore.Kept{}, nil, fmt.Errorf("seal: %w", err)
	}
	kept, err := j.Store.Claim(ctx, fence, d.ToClaimed(id, letter.MessageID, body, now), sealed.GetSealed())
	return kept, body, err
}

// SealPurpose names what a sealed message belongs to.
func SealPurpose(noticeID string) string { return "notice " + noticeID }

// How long the links in a message last.
const (
	odometerLinkLasts = 120 * 24 * time.Hour
	stopLinkLasts     = 2 * 365 * 24 * time.Hour
)

// link signs a link for the one thing it lets the recipient do.
func (j *Job) link(purpose links.Purpose, d reminder.Draft, expires time.Time) (string, error) {
	if j.BaseURL == "" {
		return "", nil
	}
	var nonce links.Nonce
	rand.Read(nonce[:]) // never fails
	token, err := j.Links.Token(links.Link{Purpose: purpose, Subject: links.Target{Serial: string(d.Vehicle.Serial), Person: d.To.Person}.Subject(), Expires: expires}, nonce)
	if err != nil {
		return "", fmt.Errorf("sign a link: %w", err)
	}
	return url.JoinPath(j.BaseURL, "l", token)
}

// parts asks which parts fit this vehicle today, for every line.
func (j *Job) parts(ctx context.Context, d reminder.Draft) (map[string][]reminderwords.Part, error) {
	out := map[string][]reminderwords.Part{}
	answers := map[string]*partsv1.PartAnswer{}
	for _, line := range d.Lines {
		for _, need := range line.Item.Parts {
			answer := answers[need.Position]
			if answer == nil {
				var err error
				answer, err = j.Parts.AnswerPart(ctx, &partsv1.AnswerPartRequest{
					Build: "builds/" + string(d.Vehicle.Serial), Question: need.Position,
				})
				if err != nil {
					return nil, fmt.Errorf("ask for the part at %s: %w", need.Position, err)
				}
				answers[need.Position] = answer
			}
			out[line.Item.Cycle] = append(out[line.Item.Cycle], j.partLines(ctx, need, answer)...)
		}
	}
	return out, nil
}

// partLines gives what to ask for at a position: the part and what must be new
// with it. Where the answer is no number, the works must be asked.
func (j *Job) partLines(ctx context.Context, need reminder.PartNeed, answer *partsv1.PartAnswer) []reminderwords.Part {
	if len(answer.GetChoices()) != 1 {
		return []reminderwords.Part{{Title: strings.ReplaceAll(need.Position, "-", " "), Position: need.Position, IfNeeded: need.IfNeeded}}
	}
	c := answer.GetChoices()[0]
	quantity := need.Quantity
	if quantity == 0 {
		quantity = int(c.GetQuantity())
	}
	lines := []reminderwords.Part{{
		Number: strings.TrimPrefix(c.GetOrder().GetName(), "parts/"), Title: c.GetOrder().GetTitle(), Position: need.Position,
		Quantity: quantity, IfNeeded: need.IfNeeded, Caution: c.GetCaution(),
	}}
	for _, with := range append(c.GetAlsoOrder(), c.GetRenewWith()...) {
		lines = append(lines, reminderwords.Part{
			Number: strings.TrimPrefix(with.GetPart(), "parts/"), Title: j.titleOf(ctx, with.GetPart()), Position: need.Position, GoesWith: true,
			Quantity: max(int(with.GetQuantity()), 1), IfNeeded: need.IfNeeded,
		})
	}
	return lines
}

// titleOf gives what a part is called; the number alone will do where the
// catalogue does not say.
func (j *Job) titleOf(ctx context.Context, name string) string {
	part, err := j.Parts.GetPart(ctx, &partsv1.GetPartRequest{Name: name})
	if err != nil {
		return ""
	}
	return part.GetTitle()
}
