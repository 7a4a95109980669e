package reminderjob

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderreturn"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
)

// requestFor gives the request id of something that reached the works: the
// same for the same bytes, so that what comes twice happens once.
func requestFor(what string, parts ...[]byte) string {
	h := sha256.New()
	h.Write([]byte("halfshaft " + what + "\n"))
	for _, p := range parts {
		var length [8]byte
		binary.BigEndian.PutUint64(length[:], uint64(len(p)))
		h.Write(length[:])
		h.Write(p)
	}
	id := uuid.UUID(h.Sum(nil)[:16])
	id[6], id[8] = id[6]&0x0f|0x80, id[8]&0x3f|0x80 // version 8, RFC 9562 section 5.8
	return id.String()
}

// TakeReturn takes in a message that came back to the works: what a mail server
// reports, a complaint, an answer, or a mail to the address for unsubscribing.
// The recipients are those of the envelope. The same message again changes
// nothing and gets the same answer. Invalid is for bytes that are no message;
// after any other error nothing is kept, and the message may come again.
func (j *Job) TakeReturn(ctx context.Context, recipients []string, message []byte) (*reminderv1.TakeReturnResponse, error) {
	ctx = AsService(ctx)
	report, err := reminderreturn.Parse(message)
	if err != nil {
		return nil, err
	}
	var parts [][]byte
	for _, r := range recipients {
		parts = append(parts, []byte(r))
	}
	sum := sha256.Sum256(message)
	q := reminderstore.Request{
		ID:      requestFor("return", append(parts, sum[:])...),
		Payload: &reminderv1.TakeReturnRequest{Recipients: recipients, Message: sum[:]},
	}
	answer := &reminderv1.TakeReturnResponse{Kind: reminderwire.ReturnKindProto(report.Kind)}
	if found, err := j.Store.Replay(ctx, q, answer); err != nil || found {
		return answer, err
	}
	reference, stop := j.referenceOf(recipients, report)
	kept, found, err := j.Store.ByReference(ctx, reference)
	if err != nil {
		return nil, err
	}
	if !found { // of somebody else, or of a notice of before there were references
		return answer, nil // nothing is kept of it, for anybody can send such mail
	}
	answer.Notice = reminderwire.NoticeName(kept.ID)
	if stop {
		return answer, j.stopped(ctx, q, kept.Notice, report.Kind, answer)
	}
	back := reminder.Return{Kind: report.Kind, Time: j.now(), Text: report.Text}
	return answer, j.returned(ctx, q, kept.ID, back, answer)
}

// referenceOf gives the reference that a message came to, or that the report
// quotes; stop says that it came to the address for unsubscribing.
func (j *Job) referenceOf(recipients []string, report reminderreturn.Report) (reference string, stop bool) {
	if j.ReturnPath == nil {
		return "", false
	}
	for _, r := range recipients {
		if reference, stop, ok := j.ReturnPath.Read(r); ok {
			return reference, stop
		}
	}
	reference, _ = report.Find(j.ReturnPath)
	return reference, false
}

// stopped opts a person out of what a notice was for, because a mail came to
// the notice's address for unsubscribing. A report about such a mail is none.
func (j *Job) stopped(ctx context.Context, q reminderstore.Request, n reminder.Notice, kind reminder.ReturnKind, answer *reminderv1.TakeReturnResponse) error {
	var outs []reminder.OptOut
	_, known, err := j.person(ctx, newWorld(j.Clock()), n.Person)
	if err != nil {
		return err
	}
	if known && (kind == reminder.Reply || kind == reminder.AutoReply) {
		if o := j.optOut(n, "mail"); o != nil {
			outs = append(outs, *o)
		}
	}
	return j.Store.Take(ctx, q, nil, outs, answer)
}

// optOut gives the opt-out from what a notice was for; nil where there is one
// already, and for what nobody can opt out of.
func (j *Job) optOut(n reminder.Notice, way string) *reminder.OptOut {
	purpose := max(n.Purpose, reminder.Service)
	if !purpose.Ends() || j.Store.OptedOutOf(n.Serial, purpose)[n.Person] {
		return nil
	}
	return &reminder.OptOut{Serial: n.Serial, Person: n.Person, Purpose: purpose, Way: way, Created: j.now()}
}

// mostTries is how often a change that somebody else came before is decided
// anew.
const mostTries = 5

// returned applies what came back of a notice: its state, the address, the
// opt-out and the task that come of it, in one transaction beside the mark on
// the address, which the owners' service makes first and once. What repeats an
// earlier return and asks for nothing new is not written.
func (j *Job) returned(ctx context.Context, q reminderstore.Request, id string, back reminder.Return, answer proto.Message) error {
	for try := 1; ; try++ {
		kept, err := j.Store.Notice(ctx, id)
		if err != nil {
			return err
		}
		after, effect, err := j.afterReturn(ctx, kept.Notice, back)
		if err != nil {
			return err
		}
		if effect.AddressDead {
			to, err := j.sentTo(ctx, kept.Notice)
			if err == nil {
				err = j.markDead(ctx, kept.Notice, to, back.Text)
			}
			if err != nil {
				return err
			}
		}
		marking, err := j.effects(ctx, kept.Notice, after, back.Kind, effect)
		again := proto.Equal(reminderwire.NoticeProto(kept.Notice), reminderwire.NoticeProto(after))
		if err != nil || again && marking.Nothing() {
			return err
		}
		err = j.Store.MarkReturn(ctx, q, kept, after, marking, answer)
		if err == nil {
			j.metrics.noteMark(kept.Notice, after)
			j.countReturn(ctx, back)
		}
		if try == mostTries || !fault.Is(err, fault.Aborted) && !fault.Is(err, fault.AlreadyExists) {
			return err
		}
	}
}

// afterReturn gives a notice after something came back of it, and what else
// that asks for: nothing once its person was erased, for then there is neither
// an address to mark nor anybody to ask.
func (j *Job) afterReturn(ctx context.Context, n reminder.Notice, back reminder.Return) (reminder.Notice, reminder.Effect, error) {
	c, err := j.lastCase(ctx, n)
	if err != nil {
		return n, reminder.Effect{}, err
	}
	_, known, err := j.person(ctx, newWorld(j.Clock()), n.Person)
	if err != nil {
		return n, reminder.Effect{}, err
	}
	to, _ := c.LastLook(n, true)
	after, effect := n.AfterReturn(back, to, c.Claims)
	if !known {
		after.State, effect = n.State, reminder.Effect{}
	}
	return after, effect, nil
}

// effects gives what goes with the mark of a return. A report that repeats an
// earlier one makes no second task, but each person's answer is one.
func (j *Job) effects(ctx context.Context, before, after reminder.Notice, kind reminder.ReturnKind, e reminder.Effect) (m reminderstore.Marking, err error) {
	if e.OptOut {
		m.OptOut = j.optOut(before, "complaint")
	}
	again := slices.ContainsFunc(before.Returns, func(r reminder.Return) bool { return r.Kind == kind })
	if e.Task == "" || again && kind != reminder.Reply {
		return m, nil
	}
	task, err := j.Store.FreeTask(ctx, after, e.Task, j.now())
	m.Tasks = append(m.Tasks, task)
	return m, err
}

// markDead tells the owners' service that the address a notice went to leads
// nowhere; with "" there is none to tell of. It knows by itself whether that is
// still the person's. The same notice at the same address is one request.
func (j *Job) markDead(ctx context.Context, n reminder.Notice, address, reason string) error {
	if address == "" {
		return nil
	}
	_, err := j.Owners.MarkUndeliverable(ctx, &ownerv1.MarkUndeliverableRequest{
		Name: reminderwire.PersonName(n.Person), Way: reminderwire.ContactWay(n.Channel), Address: address, Reason: reason,
		RequestId: requestFor("undeliverable", []byte(n.ID), []byte(n.Retried.UTC().Format(time.RFC3339Nano)), []byte(address), []byte(reason)),
	})
	if err != nil && rpcerr.FromStatus(err).Kind != fault.NotFound {
		return elsewhere("mark an address as leading nowhere", err)
	}
	return nil
}

// failed gives the task for a notice that was refused for good. Where it was
// the address that the mail server refused, that is marked as by a report that
// comes back later. When that cannot be done, the notice is marked all the same,
// and the next one finds it out again.
func (j *Job) failed(ctx context.Context, n reminder.Notice, address string, a reminder.Attempt) reminder.TaskKind {
	if !a.Recipient || reminderreturn.OfRefusal(a.Text) != reminder.Failed {
		return reminder.NoticeParked
	}
	if err := j.markDead(ctx, n, address, a.Text); err != nil {
		j.Logger.Error("an address that was refused could not be marked", "vehicle", n.Serial, "error", err)
		return reminder.NoticeParked
	}
	return reminder.AddressDead
}

// elsewhere gives an error of another service as one of ours. That it found
// our request invalid says nothing against what reached us, which may come
// again when the fault is mended.
func elsewhere(what string, err error) error {
	if f := rpcerr.FromStatus(err); f != nil && f.Kind == fault.Invalid {
		return &fault.Error{Kind: fault.Internal, Reason: "REFUSED_ELSEWHERE", Message: what, Cause: err}
	}
	return fmt.Errorf("%s: %w", what, err)
}
