package jobsheetrpc

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/types/known/timestamppb"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/jobsheet"
	"halfshaft/services/jobsheet/jobsheetstore"
)

// mostReason bounds why something was struck out, in characters, as the schedule
// service does.
const mostReason = 2_000

// VoidJobReturn implements the JobSheetService. As with a return, the sheet is
// written with what is to be done first, and then it is done: by this call, or by
// whoever finds the mark.
func (s *Service) VoidJobReturn(ctx context.Context, r *jobsheetv1.VoidJobReturnRequest) (*jobsheetv1.JobSheet, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	if strings.TrimSpace(r.GetReason()) == "" || fault.Longer(r.GetReason(), mostReason) {
		return nil, fault.InvalidField("reason", r.GetReason(), "why, in a few words, "+fault.AtMost(mostReason))
	}
	q := jobsheetstore.Request{ID: r.GetRequestId(), Payload: r}
	marked, found, err := s.store.Replay(ctx, q)
	if err != nil {
		return nil, err
	}
	if !found {
		if marked, err = s.markStruck(ctx, q, r); err != nil {
			return nil, err
		}
	}
	k, err := s.store.Sheet(marked.Serial, marked.Number)
	if err != nil {
		return nil, err
	}
	if jobsheet.State(k.Message.GetJobSheet().GetState()) != jobsheet.BeingStruckOut {
		return shown(ctx, k), nil
	}
	done, err := s.carryOut(ctx, nil, k)
	if err != nil {
		s.Logger.Error("what came back on a job sheet is not struck out yet; it will be tried again", "sheet", k.Message.GetJobSheet().GetName(), "error", err)
		s.rouse()
		return shown(ctx, k), nil // it will be carried out
	}
	return shown(ctx, done), nil
}

// markStruck writes down that what came back is to be struck out.
func (s *Service) markStruck(ctx context.Context, q jobsheetstore.Request, r *jobsheetv1.VoidJobReturnRequest) (jobsheetstore.Kept, error) {
	k, err := s.kept(r.GetName())
	if err != nil {
		return k, err
	}
	if err := kv.Matches("etag", r.GetEtag(), k.Revision); err != nil {
		return k, err
	}
	sheet := k.Message.GetJobSheet()
	if state := jobsheet.State(sheet.GetState()); state != jobsheet.Returned {
		return k, fault.New(fault.FailedPrecondition, "JOB_SHEET_NOT_RETURNED", "Job sheet %d of %s is %s: there is nothing on record to strike out.", k.Number, k.Serial, state)
	}
	if changes := recordsOf(sheet, "builds/"); len(changes) > 0 {
		return k, fault.New(fault.FailedPrecondition, "JOB_RETURN_CHANGED_VEHICLE",
			"Job sheet %d of %s changed the vehicle too: %d in its build record came of it. Such a change is not struck out, and all that came back stands or falls together: record as a change what is on the vehicle now.",
			k.Number, k.Serial, len(changes))
	}
	caller := access.CallerFrom(ctx)
	next := cloned(k)
	next.Message.JobSheet.State = jobsheetv1.JobSheetState_JOB_SHEET_STATE_BEING_STRUCK_OUT
	next.Message.JobSheet.Strike = &jobsheetv1.JobStrike{Reason: strings.TrimSpace(r.GetReason()), StruckBy: caller.Bearer, StrikeTime: timestamppb.New(s.now())}
	next.Message.Step = jobsheetv1.JobSheetStep_JOB_SHEET_STEP_STRIKE
	next.Message.Caller = callerProto(caller)
	return s.store.Put(ctx, q, next)
}

// recordsOf gives the records of a return that begin so.
func recordsOf(m *jobsheetv1.JobSheet, head string) []string {
	return slices.DeleteFunc(slices.Clone(m.GetJobReturn().GetRecords()), func(name string) bool { return !strings.HasPrefix(name, head) })
}

// strikeOut strikes the entry of a return out, unless it is. The program does it,
// speaking for whoever asked: the entry of a sheet is struck out by nobody else,
// and a dealer who sent it in may have given the vehicle back since.
func (s *Service) strikeOut(ctx context.Context, k jobsheetstore.Kept, caller access.Caller, step, reason string) error {
	records := k.Message.GetJobSheet().GetJobReturn().GetRecords()
	if len(records) == 0 {
		return nil
	}
	ctx = recorder(ctx, caller)
	entry, err := s.entry(ctx, k, records[0])
	if err != nil || entry.GetVoidReason() != "" {
		return err
	}
	_, err = s.Schedules.VoidServiceEntry(ctx, &schedulev1.VoidServiceEntryRequest{
		Name: entry.GetName(), Etag: entry.GetEtag(), RequestId: requestID(k, step+"/"+entry.GetEtag()), Reason: reason,
	})
	if err != nil {
		return rpcerr.FromStatus(err)
	}
	return nil
}

// reopen opens a campaign again that a return completed, unless something else
// counts as its remedy by now. One that does not take it is said on the log.
func (s *Service) reopen(ctx context.Context, k jobsheetstore.Kept, name string) error {
	evidence := k.Message.GetJobSheet().GetJobReturn().GetRecords()[0]
	f, err := s.Bulletins.GetFollowUp(ctx, &bulletinv1.GetFollowUpRequest{Name: name})
	if err == nil && counts(f, evidence) {
		_, err = s.Bulletins.RecordFollowUpStep(ctx, &bulletinv1.RecordFollowUpStepRequest{
			Name: name, Etag: f.GetEtag(), RequestId: requestID(k, "reopen/"+name+"/"+f.GetEtag()),
			Step: &bulletinv1.FollowUpStep{
				Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_FOUND_WRONG,
				Text: fmt.Sprintf("What came back on job sheet %d was struck out.", k.Number),
			},
		})
	}
	if err == nil {
		return nil
	}
	refused := rpcerr.FromStatus(err)
	if !slices.Contains(forGood, refused.Kind) {
		return refused
	}
	s.Logger.Error("a campaign could not be opened again when its job sheet was struck out", "sheet", k.Message.GetJobSheet().GetName(), "campaign", name, "reason", refused.Reason)
	return nil
}

// counts reports whether a campaign is done by an entry.
func counts(f *bulletinv1.FollowUp, evidence string) bool {
	if f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE {
		return false
	}
	for _, step := range slices.Backward(f.GetSteps()) {
		if step.GetKind() == bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE {
			return step.GetEvidence() == evidence
		}
	}
	return false
}
