package reminderjob

import (
	"context"
	"maps"
	"slices"
	"strings"

	"google.golang.org/grpc"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
)

// Handbooks is what is asked of the handbooks: whether one would be another by
// now, and to issue it. A handbookv1.HandbookServiceClient is one.
type Handbooks interface {
	GetHandbookPreview(ctx context.Context, r *handbookv1.GetHandbookPreviewRequest, _ ...grpc.CallOption) (*handbookv1.HandbookPreview, error)
	IssueHandbook(ctx context.Context, r *handbookv1.IssueHandbookRequest, _ ...grpc.CallOption) (*handbookv1.HandbookIssue, error)
	GetHandbookIssue(ctx context.Context, r *handbookv1.GetHandbookIssueRequest, _ ...grpc.CallOption) (*handbookv1.HandbookIssue, error)
}

// HandbookAsk says whose handbook goes to whom.
type HandbookAsk struct {
	Serial  vehicle.Serial
	Person  string           // "" is everybody who owns it or looks after the estate
	Channel reminder.Channel // "" is the one that each wants most
	Issue   string           // resource name; "" is the last, issued anew where anything changed
	Text    string           // why it is issued, if it is
}

// mostHandouts bounds to how many people one request sends, so that their claims
// fit one transaction.
const mostHandouts = 12

// SendHandbook claims the messages that tell people where they find a handbook.
// Whether anybody can be told at all is looked at first, so that nothing is issued
// for nobody. The handbooks are asked as whoever calls; the same request again
// gives the first answer and sends nothing.
func (j *Job) SendHandbook(ctx context.Context, q reminderstore.Request, ask HandbookAsk) (*reminderv1.SendHandbookResponse, error) {
	answer := &reminderv1.SendHandbookResponse{}
	if found, err := j.Store.Replay(ctx, q, answer); err != nil || found {
		return answer, err
	}
	if j.Handbooks == nil || !j.sends() {
		return nil, fault.New(fault.FailedPrecondition, "SENDS_NOTHING", "%s", sendsNothing)
	}
	w := newWorld(j.Clock())
	w.scheduleless = true
	c, err := j.caseNow(AsService(ctx), w, ask.Serial)
	if err != nil {
		return nil, err
	}
	if drafts, missed := c.HandoutTo(reminder.Item{}, ask.Person, ask.Channel); len(drafts) == 0 {
		return nil, nobodyToSend(ask, missed)
	} else if len(drafts) > mostHandouts {
		return nil, fault.New(fault.FailedPrecondition, "TOO_MANY_PEOPLE",
			"%d people would be written to, and at most %d are at once: name one of them.", len(drafts), mostHandouts)
	}
	issue, issued, err := j.handbookToSend(ctx, q, ask)
	if err != nil {
		return nil, err
	}
	of, handout, err := reminderwire.Handout(issue)
	if err != nil || of != ask.Serial {
		return nil, fault.New(fault.Internal, "ANOTHER_HANDBOOK", "the handbooks answered with an issue that was not asked for")
	}
	request := q.ID
	if request == "" {
		request = kv.NewID()
	}
	drafts, missed := c.HandoutTo(reminder.HandoutItem(handout, request, vehicle.DateOf(j.now())), ask.Person, ask.Channel)
	answer.Issue, answer.Issued = issue.GetName(), issued
	for _, person := range slices.Sorted(maps.Keys(missed)) {
		answer.Missed = append(answer.Missed, missedBecause(person, missed[person], ask.Channel))
	}
	return answer, j.claimAsked(ctx, q, drafts, answer)
}

// handbookToSend gives the issue that is to be sent, and whether it was issued for
// this. Its request is made of ours, so that a call that ended between the two is
// gone on with when it is repeated.
func (j *Job) handbookToSend(ctx context.Context, q reminderstore.Request, ask HandbookAsk) (*handbookv1.HandbookIssue, bool, error) {
	name := ask.Issue
	if name == "" {
		vehicleName := reminderwire.VehicleName(ask.Serial)
		now, err := j.Handbooks.GetHandbookPreview(ctx, &handbookv1.GetHandbookPreviewRequest{Name: vehicleName + "/handbook"})
		if err != nil {
			return nil, false, rpcerr.FromStatus(err)
		}
		if now.GetLastIssue() == "" || len(now.GetChanges()) > 0 {
			request := &handbookv1.IssueHandbookRequest{Parent: vehicleName, Text: ask.Text}
			if q.ID != "" {
				request.RequestId = requestFor("handbook", []byte(q.ID))
			}
			issue, err := j.Handbooks.IssueHandbook(ctx, request)
			if err != nil {
				return nil, false, rpcerr.FromStatus(err)
			}
			return issue, true, nil
		}
		name = now.GetLastIssue()
	}
	issue, err := j.Handbooks.GetHandbookIssue(ctx, &handbookv1.GetHandbookIssueRequest{Name: name})
	if err != nil {
		return nil, false, rpcerr.FromStatus(err)
	}
	return issue, false, nil
}

// claimAsked renders drafts and claims them under the request. answer is filled
// with what was claimed.
func (j *Job) claimAsked(ctx context.Context, q reminderstore.Request, drafts []reminder.Draft, answer *reminderv1.SendHandbookResponse) error {
	asService := AsService(ctx)
	var notices []reminder.Notice
	var sealed []reminderstore.Sealed
	for _, d := range drafts {
		n, _, s, err := j.prepare(asService, d, d.NoticeID(1))
		if err != nil {
			return err
		}
		notices, sealed = append(notices, n), append(sealed, s)
		answer.Notices = append(answer.Notices, reminderwire.NoticeProto(n))
	}
	replayed, err := j.Store.ClaimAsked(ctx, q, notices, sealed, answer)
	if err != nil || replayed {
		return err
	}
	for _, n := range notices {
		j.metrics.noteClaim(n)
	}
	return nil
}

// nobodyToSend says why a handbook goes to nobody.
func nobodyToSend(ask HandbookAsk, missed map[string]string) error {
	if len(missed) == 0 && ask.Person != "" {
		return fault.New(fault.FailedPrecondition, "NOT_TIED",
			"The person %s neither owns the vehicle %s today nor looks after it: their handbook would be another's.", ask.Person, ask.Serial)
	}
	if len(missed) == 0 {
		return fault.New(fault.FailedPrecondition, "NOBODY_TIED",
			"Nobody is on record who owns the vehicle %s: record them with an address, or name somebody who looks after it.", ask.Serial)
	}
	var why []string
	for _, person := range slices.Sorted(maps.Keys(missed)) {
		why = append(why, missedBecause(person, missed[person], ask.Channel))
	}
	return fault.New(fault.FailedPrecondition, "CANNOT_BE_SENT", "%s", strings.Join(why, " "))
}

// missedBecause says in a sentence why somebody gets no handbook.
func missedBecause(person, reason string, by reminder.Channel) string {
	who := reminderwire.PersonName(person)
	switch {
	case reason == reminder.Deceased:
		return "Nothing is sent to " + who + ", who has died."
	case reason == reminder.Scrapped:
		return "Nothing is sent about a vehicle that was scrapped."
	case by == reminder.Text:
		return "A text message cannot reach " + who + ": it needs a number on record, their agreement to text messages, and a gateway here."
	case by == reminder.Letter:
		return "A letter cannot reach " + who + ": it needs a postal address on record that they want to be written to at, and letters that are printed here."
	case by == reminder.Mail:
		return "A mail cannot reach " + who + ": it needs a mail address on record that they want to be written to at and that works, and a mail server here."
	}
	return "There is no way by which " + who + " can be written to: ask for an address, and record it."
}

// sendAsked sends what somebody asked for as soon as it is claimed, while this
// process leads. What cannot be sent now is for the next pass, like all else.
func (j *Job) sendAsked(ctx context.Context, fence kv.Fence) error {
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-j.Store.Asked():
		}
		if !j.sends() {
			continue
		}
		if err := j.finishAsked(ctx, fence); err != nil {
			if stops(ctx, err) {
				return err
			}
			j.Logger.Error("what was asked for did not go out; the next pass tries again", "error", err)
		}
	}
}

// finishAsked hands over what was asked for and never tried, and adds it to the
// numbers of the day.
func (j *Job) finishAsked(ctx context.Context, fence kv.Fence) error {
	j.passing.Lock()
	defer j.passing.Unlock()
	ctx = AsService(ctx)
	if err := j.Store.Sync(ctx); err != nil {
		return err
	}
	r := &Report{}
	for _, k := range j.Store.Unfinished() {
		if !k.Purpose.Once() || k.State != reminder.Claimed || k.Channel == reminder.Letter {
			continue
		}
		err := j.alone(ctx, k.Serial, func() error { return j.deliver(ctx, fence, k, nil, k.MayHaveArrived(), r) })
		if err != nil {
			return err
		}
	}
	if err := j.handbooksAnew(ctx, fence, r); err != nil {
		return err
	}
	if r.Sent+r.Parked+r.Silenced+r.Tasks == 0 {
		return nil
	}
	return j.keepDay(ctx, fence, r, j.Clock())
}
