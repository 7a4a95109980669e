package bulletinjob

import (
	"context"
	"errors"
	"fmt"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/bulletin"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/bulletin/bulletinwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle/vehiclewire"
)

// Issue issues a draft: the version, the end of the one before it, and for a
// campaign a follow-up for each vehicle of the set, counted together. A list
// that is too long for one transaction is written behind a mark, and counts when
// the version does; cut short, it is carried on by whoever finds the mark, under
// the request that began it.
func (j *Job) Issue(ctx context.Context, draft *bulletinstore.Version, r *bulletinv1.IssueBulletinRequest) (kv.Result, error) {
	if mark := j.begun(draft); mark != nil {
		return j.carryOn(ctx, nil, mark)
	}
	issued, former, err := j.issued(draft)
	if err != nil {
		return kv.Result{}, err
	}
	var list []bulletin.FollowUp
	if issued.Bulletin.Kind == bulletin.Campaign {
		ready, err := bulletin.Prepare(issued.Bulletin, j.compiler)
		if err != nil {
			return kv.Result{}, err
		}
		fleet, err := j.Fleet(ctx, AsksUse(&issued.Bulletin.Set))
		if err != nil {
			return kv.Result{}, err
		}
		list = j.followUps(&issued.Bulletin, ready.Grow(j.Store.Written(draft.Bulletin.ID), fleet).Entered)
	}
	if len(list) <= bulletinstore.Few {
		return j.Store.Issue(ctx, request(issued, r), issued, former, list)
	}
	begin := &bulletinv1.Issuing{Request: r, Asker: kv.AskerFrom(ctx), IssueDate: vehiclewire.DateProto(issued.Bulletin.Issued)}
	if err := j.Store.Begin(ctx, draft, begin); err != nil {
		return kv.Result{}, err
	}
	if mark := j.begun(draft); mark != nil {
		return j.carryOn(ctx, nil, mark)
	}
	return kv.Result{}, fault.New(fault.Aborted, "ISSUED_MEANWHILE", "The bulletin was issued by somebody else meanwhile: read it again.")
}

// begun gives the mark of a draft whose list is being written; nil for none.
func (j *Job) begun(draft *bulletinstore.Version) *bulletinstore.Begun {
	for _, b := range j.Store.Begun() {
		if b.ID == draft.Bulletin.ID && b.Version == draft.Bulletin.Version {
			return b
		}
	}
	return nil
}

func request(issued *bulletinstore.Version, r *bulletinv1.IssueBulletinRequest) bulletinstore.Request {
	answer := bulletinwire.BulletinProto(&issued.Bulletin)
	answer.CreateTime = vehiclewire.MomentProto(issued.Created)
	return bulletinstore.Request{ID: r.GetRequestId(), Payload: r, Answer: answer}
}

// issued gives a draft as it is issued today, and the version that it takes the
// place of, nil for none.
func (j *Job) issued(draft *bulletinstore.Version) (issued, former *bulletinstore.Version, err error) {
	b, err := draft.Bulletin.Issue(j.today(), j.compiler)
	if err != nil {
		return nil, nil, err
	}
	issued = &bulletinstore.Version{Bulletin: b, Created: draft.Created, Revision: draft.Revision}
	if was := j.Store.Holding(draft.Bulletin.ID); was != nil {
		ended, err := was.Bulletin.Supersede()
		if err != nil {
			return nil, nil, err
		}
		former = &bulletinstore.Version{Bulletin: ended, Created: was.Created, Revision: was.Revision}
	}
	return issued, former, nil
}

// finishBegun carries lists that were cut short to their end.
func (j *Job) finishBegun(ctx context.Context, fence *kv.Fence) error {
	for _, b := range j.Store.Begun() {
		if _, err := j.carryOn(ctx, fence, b); err != nil {
			return fmt.Errorf("issue %s, version %d: %w", b.ID, b.Version, err)
		}
	}
	return nil
}

// carryOn writes what is missing of a list and issues the version, for whoever
// asked for it. The day is that of the mark: what was written says so.
func (j *Job) carryOn(ctx context.Context, fence *kv.Fence, mark *bulletinstore.Begun) (kv.Result, error) {
	draft := j.Store.Version(mark.ID, mark.Version)
	if draft == nil {
		return kv.Result{}, fault.New(fault.Internal, "RECORD_DAMAGED", "a version that is being issued is not there")
	}
	issued, former, err := j.issued(draft)
	if err != nil {
		return kv.Result{}, err
	}
	if issued.Bulletin.Issued, err = vehiclewire.Date(mark.Message.GetIssueDate()); err != nil {
		return kv.Result{}, err
	}
	ready, err := bulletin.Prepare(issued.Bulletin, j.compiler)
	if err != nil {
		return kv.Result{}, err
	}
	fleet, err := j.Fleet(ctx, AsksUse(&issued.Bulletin.Set))
	if err != nil {
		return kv.Result{}, err
	}
	if err := j.write(ctx, fence, draft, &issued.Bulletin, ready, fleet); err != nil {
		if lostTo(err) {
			return j.finishedByAnother(ctx, mark, err)
		}
		return kv.Result{}, err
	}
	if asker := mark.Message.GetAsker(); asker != "" {
		ctx = kv.WithAsker(ctx, asker)
	}
	result, err := j.Store.Finish(ctx, fence, request(issued, mark.Message.GetRequest()), mark, issued, former)
	if lostTo(err) {
		return j.finishedByAnother(ctx, mark, err)
	}
	return result, err
}

// lostTo reports whether another wrote first.
func lostTo(err error) bool {
	return fault.Is(err, fault.Aborted) && !errors.Is(err, kv.ErrNotLeader)
}

// write enters what is missing of a list under a version that is still a draft.
func (j *Job) write(ctx context.Context, fence *kv.Fence, draft *bulletinstore.Version, b *bulletin.Bulletin, ready *bulletin.Ready, fleet *bulletin.Fleet) error {
	for {
		missing := ready.Grow(j.Store.Written(b.ID), fleet).Entered
		if len(missing) == 0 {
			return nil
		}
		err := j.Store.Enter(ctx, fence, draft, j.followUps(b, missing[:min(len(missing), bulletinstore.Few)]))
		if fault.Is(err, fault.AlreadyExists) {
			err = j.Store.CatchUp(ctx)
		}
		if err != nil {
			return err
		}
	}
}

// finishedByAnother gives the answer that another gave to the same request, who
// carried the list to its end meanwhile.
func (j *Job) finishedByAnother(ctx context.Context, mark *bulletinstore.Begun, lost error) (kv.Result, error) {
	if err := j.Store.CatchUp(ctx); err != nil {
		return kv.Result{}, err
	}
	v := j.Store.Version(mark.ID, mark.Version)
	if v == nil || v.Bulletin.State == bulletin.Draft {
		return kv.Result{}, lost
	}
	return kv.Result{Revision: v.Revision}, nil
}
