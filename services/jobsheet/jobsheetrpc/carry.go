package jobsheetrpc

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/jobsheet"
	"halfshaft/services/jobsheet/jobsheetstore"
	"halfshaft/services/jobsheet/jobsheetwire"
)

// requests is the name space of the request ids that are derived from sheets.
var requests = uuid.MustParse("b3c1a0f2-6a0e-4a53-9d0c-0b7c3f6f4a11")

// requestID is the request id of a step of an attempt; the same whoever carries
// it out, and however often.
func requestID(k jobsheetstore.Kept, step string) string {
	return uuid.NewSHA1(requests, fmt.Appendf(nil, "%s/%d/%s", k.Message.GetJobSheet().GetName(), k.Message.GetAttempt(), step)).String()
}

// carryOut does what is still to be done of a return, and marks each step when it
// is. It may run twice at the same time: each effect happens once by its request
// id, and of two marks one is refused. An error leaves the mark for the next.
func (s *Service) carryOut(ctx context.Context, fence *kv.Fence, k jobsheetstore.Kept) (jobsheetstore.Kept, error) {
	ctx, caller, err := s.as(ctx, k)
	if err != nil {
		return k, err
	}
	attempt := k.Message.GetAttempt()
	state := k.Message.GetJobSheet().GetState()
	for k.Message.GetJobSheet().GetState() == state && k.Message.GetStep() != 0 && k.Message.GetAttempt() == attempt {
		next, err := s.step(ctx, k, caller)
		if err != nil {
			return k, err
		}
		marked, err := s.store.PutFenced(ctx, fence, next)
		if fault.Is(err, fault.Aborted) && !errors.Is(err, kv.ErrNotLeader) { // another marked it: go on from there
			if err = s.Group.Wait(ctx, jobsheetstore.Service, k.Revision+1); err == nil {
				marked, err = s.store.Sheet(k.Serial, k.Number)
			}
		}
		if err != nil {
			return k, err
		}
		k = marked
	}
	return k, nil
}

// as gives the context in which a return is carried out: that of who sent it.
func (s *Service) as(ctx context.Context, k jobsheetstore.Kept) (context.Context, access.Caller, error) {
	c := k.Message.GetCaller()
	role, err := access.ParseRole(c.GetRole())
	if err != nil {
		return ctx, access.Caller{}, err
	}
	caller := access.Caller{Role: role, Bearer: c.GetBearer(), Organisation: c.GetOrganisation(), Account: c.GetAccount(), Credential: c.GetCredential()}
	return access.NewContext(ctx, caller), caller, nil
}

// step carries out the next step and gives the sheet as it is to be marked.
func (s *Service) step(ctx context.Context, k jobsheetstore.Kept, caller access.Caller) (jobsheetstore.Kept, error) {
	sheet, err := jobsheetwire.Sheet(k.Message.GetJobSheet())
	if err != nil {
		return k, err
	}
	work := sheet.Follow(sheet.Return)
	next := cloned(k)
	m := next.Message
	switch m.GetStep() {
	case jobsheetv1.JobSheetStep_JOB_SHEET_STEP_SERVICE_ENTRY:
		entry := jobsheetwire.EntryProto(&work.Entry)
		entry.JobSheet, entry.Organisation = m.GetJobSheet().GetName(), caller.Organisation
		made, err := s.Schedules.RecordService(recorder(ctx, caller), &schedulev1.RecordServiceRequest{
			Parent: "vehicles/" + string(k.Serial), ServiceEntry: entry, RequestId: requestID(k, "entry"),
		})
		if err != nil {
			return s.refusedBy(next, err, false)
		}
		m.JobSheet.JobReturn.Records = []string{made.GetName()}
		m.Step = jobsheetv1.JobSheetStep_JOB_SHEET_STEP_CHANGES
	case jobsheetv1.JobSheetStep_JOB_SHEET_STEP_CHANGES:
		if len(work.Changes) > 0 {
			made, err := s.Builds.RecordChanges(recorder(ctx, caller), &buildv1.RecordChangesRequest{
				Parent: "builds/" + string(k.Serial), Changes: jobsheetwire.ChangesProto(&work), RequestId: requestID(k, "changes"),
			})
			if err != nil {
				return s.refusedBy(next, err, true)
			}
			for _, c := range made.GetChanges() {
				m.JobSheet.JobReturn.Records = append(m.JobSheet.JobReturn.Records, c.GetName())
			}
		}
		m.Step = jobsheetv1.JobSheetStep_JOB_SHEET_STEP_FOLLOW_UPS
	case jobsheetv1.JobSheetStep_JOB_SHEET_STEP_FOLLOW_UPS:
		for i := range work.Steps {
			if err := s.followUp(ctx, next, &work.Steps[i], i); err != nil {
				return k, err
			}
		}
		m.JobSheet.State, m.Step, m.Caller = jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED, 0, nil
	case jobsheetv1.JobSheetStep_JOB_SHEET_STEP_UNDO:
		if err := s.strikeOut(ctx, next, caller, "undo", "the changes that came back with it on the job sheet were refused"); err != nil {
			return k, err
		}
		m.JobSheet.JobReturn.Records = nil
		m.JobSheet.State, m.Step, m.Caller = jobsheetv1.JobSheetState_JOB_SHEET_STATE_OPEN, 0, nil
	case jobsheetv1.JobSheetStep_JOB_SHEET_STEP_STRIKE:
		if err := s.strikeOut(ctx, next, caller, "strike", m.GetJobSheet().GetStrike().GetReason()); err != nil {
			return k, err
		}
		m.Step = jobsheetv1.JobSheetStep_JOB_SHEET_STEP_REOPEN
	case jobsheetv1.JobSheetStep_JOB_SHEET_STEP_REOPEN:
		for _, name := range recordsOf(m.GetJobSheet(), "vehicles/"+string(k.Serial)+"/followUps/") {
			if err := s.reopen(ctx, next, name); err != nil {
				return k, err
			}
		}
		m.JobSheet.State, m.Step, m.Caller = jobsheetv1.JobSheetState_JOB_SHEET_STATE_STRUCK_OUT, 0, nil
	default:
		return k, fault.New(fault.Internal, "RECORD_DAMAGED", "a job sheet that was taken in has no next step")
	}
	return next, nil
}

// refusedBy decides what an error of a step means: to be tried again, or that the
// return cannot be put on record as it is.
func (s *Service) refusedBy(next jobsheetstore.Kept, err error, undo bool) (jobsheetstore.Kept, error) {
	f := rpcerr.FromStatus(err)
	switch f.Kind {
	case fault.Unavailable, fault.Internal, fault.Exhausted, fault.Aborted:
		return next, f
	}
	why := &vehiclev1.Reason{Rule: f.Reason, Sentence: "What came back could not be put on record, and none of it is: " + strings.TrimSuffix(f.Message, ".") + "."}
	for _, field := range f.Fields {
		why.Facts = append(why.Facts, &vehiclev1.Fact{Name: field.Name, Value: field.Got})
		why.Sentence += " " + field.Name + ": got " + field.Got + ", want " + field.Want + "."
	}
	s.Logger.Error("what came back on a job sheet was refused; the sheet is open again", "sheet", next.Message.GetJobSheet().GetName(), "reason", f.Reason)
	next.Message.JobSheet.Refusal = why
	if undo {
		next.Message.Step = jobsheetv1.JobSheetStep_JOB_SHEET_STEP_UNDO
		return next, nil
	}
	next.Message.JobSheet.State, next.Message.Step, next.Message.Caller = jobsheetv1.JobSheetState_JOB_SHEET_STATE_OPEN, 0, nil
	return next, nil
}

// entry finds the entry of a return.
func (s *Service) entry(ctx context.Context, k jobsheetstore.Kept, name string) (*schedulev1.ServiceEntry, error) {
	all, err := page.All(func(token string) ([]*schedulev1.ServiceEntry, string, error) {
		r, err := s.Schedules.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: "vehicles/" + string(k.Serial), PageSize: 500, PageToken: token})
		return r.GetServiceEntries(), r.GetNextPageToken(), err
	})
	if err != nil {
		return nil, rpcerr.FromStatus(err)
	}
	if i := slices.IndexFunc(all, func(e *schedulev1.ServiceEntry) bool { return e.GetName() == name }); i >= 0 {
		return all[i], nil
	}
	return nil, fault.New(fault.Internal, "RECORD_DAMAGED", "the service entry of a job sheet is not there")
}

// forGood are the refusals of a campaign that trying again does not change: it
// was settled or withdrawn meanwhile, or whoever brought the sheet may not tell it
// any more, because a dealer gave the vehicle back before all was carried out.
var forGood = []fault.Kind{fault.FailedPrecondition, fault.Invalid, fault.NotFound, fault.Denied, fault.Unauthenticated}

// followUp records the step of a campaign, unless it is there already. A campaign
// that does not take it is said on the log, and is not among the records: what
// was done stands in the entry.
func (s *Service) followUp(ctx context.Context, next jobsheetstore.Kept, step *jobsheet.Step, n int) error {
	evidence := next.Message.GetJobSheet().GetJobReturn().GetRecords()[0]
	f, err := s.Bulletins.GetFollowUp(ctx, &bulletinv1.GetFollowUpRequest{Name: step.FollowUp})
	there := slices.ContainsFunc(f.GetSteps(), func(p *bulletinv1.FollowUpStep) bool { return p.GetEvidence() == evidence })
	if err == nil && !there {
		_, err = s.Bulletins.RecordFollowUpStep(ctx, &bulletinv1.RecordFollowUpStepRequest{
			Name: step.FollowUp, Etag: f.GetEtag(), RequestId: requestID(next, fmt.Sprintf("step/%d/%s", n, f.GetEtag())),
			Step: jobsheetwire.StepProto(step, evidence),
		})
	}
	if err != nil {
		refused := rpcerr.FromStatus(err)
		if !slices.Contains(forGood, refused.Kind) {
			return refused
		}
		s.Logger.Error("a campaign did not take the step of a job sheet; the work is in the service entry", "sheet", next.Message.GetJobSheet().GetName(), "campaign", step.FollowUp, "reason", refused.Reason)
		return nil
	}
	next.Message.JobSheet.JobReturn.Records = append(next.Message.JobSheet.JobReturn.Records, step.FollowUp)
	return nil
}
