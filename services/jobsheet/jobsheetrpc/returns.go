package jobsheetrpc

import (
	"context"
	"fmt"
	"strings"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/jobsheet"
	"halfshaft/services/jobsheet/jobsheetstore"
	"halfshaft/services/jobsheet/jobsheetwire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// CheckJobReturn implements the JobSheetService.
func (s *Service) CheckJobReturn(ctx context.Context, r *jobsheetv1.CheckJobReturnRequest) (*jobsheetv1.CheckJobReturnResponse, error) {
	k, err := s.kept(r.GetName())
	if err != nil {
		return nil, err
	}
	seen, err := s.looked(ctx, k, r.GetJobReturn())
	if err != nil {
		return nil, err
	}
	out := &jobsheetv1.CheckJobReturnResponse{Outcome: jobsheetwire.OutcomeProto(&seen.work)}
	for _, d := range seen.doubts {
		out.Doubts = append(out.Doubts, jobsheetwire.DoubtProto(d))
	}
	return out, nil
}

// ReturnJobSheet implements the JobSheetService.
func (s *Service) ReturnJobSheet(ctx context.Context, r *jobsheetv1.ReturnJobSheetRequest) (*jobsheetv1.JobSheet, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	q := jobsheetstore.Request{ID: r.GetRequestId(), Payload: r}
	taken, found, err := s.store.Replay(ctx, q)
	if err != nil {
		return nil, err
	}
	if !found {
		if taken, err = s.take(ctx, q, r); err != nil {
			return nil, err
		}
	}
	k, err := s.store.Sheet(taken.Serial, taken.Number)
	if err != nil {
		return nil, err
	}
	if k.Message.GetAttempt() == taken.Message.GetAttempt() && jobsheet.State(k.Message.GetJobSheet().GetState()) == jobsheet.TakenIn {
		done, err := s.carryOut(ctx, nil, k)
		if err != nil {
			s.Logger.Error("what came back on a job sheet is not on record yet; it will be tried again", "sheet", k.Message.GetJobSheet().GetName(), "error", err)
			s.rouse()
			return shown(ctx, k), nil // taken in: it will be carried out
		}
		k = done
	}
	if why := k.Message.GetJobSheet().GetRefusal(); why != nil && k.Message.GetAttempt() == taken.Message.GetAttempt() {
		return nil, &fault.Error{Kind: fault.FailedPrecondition, Reason: why.GetRule(), Message: why.GetSentence()}
	}
	return shown(ctx, k), nil
}

// take looks a return over and writes it down as the mark of all that follows.
func (s *Service) take(ctx context.Context, q jobsheetstore.Request, r *jobsheetv1.ReturnJobSheetRequest) (jobsheetstore.Kept, error) {
	k, err := s.open(r.GetName(), r.GetEtag())
	if err != nil {
		return k, err
	}
	seen, err := s.looked(ctx, k, r.GetJobReturn())
	if err != nil {
		return k, err
	}
	if len(seen.doubts) > 0 {
		return k, refused(seen.doubts)
	}
	back := seen.back
	caller := access.CallerFrom(ctx)
	back.TakenInBy, back.TakenIn, back.Records = caller.Bearer, s.now(), nil
	next := cloned(k)
	next.Message.JobSheet.State = jobsheetv1.JobSheetState_JOB_SHEET_STATE_TAKEN_IN
	next.Message.JobSheet.JobReturn, next.Message.JobSheet.Refusal = jobsheetwire.ReturnProto(&back), nil
	next.Message.Attempt++
	next.Message.Step = jobsheetv1.JobSheetStep_JOB_SHEET_STEP_SERVICE_ENTRY
	next.Message.Caller = callerProto(caller)
	return s.store.Put(ctx, q, next)
}

// callerProto writes down for whom something is carried out.
func callerProto(c access.Caller) *jobsheetv1.JobSheetCaller {
	return &jobsheetv1.JobSheetCaller{Role: c.Role.String(), Bearer: c.Bearer, Organisation: c.Organisation, Account: c.Account, Credential: c.Credential}
}

// refused refuses a return for all that is wrong and odd at once.
func refused(doubts []jobsheet.Doubt) error {
	f := &fault.Error{Kind: fault.Invalid, Reason: "JOB_RETURN_DOUBTFUL", Message: "What came back has to be looked at: mend it, or confirm it line by line with a reason."}
	for _, d := range doubts {
		want := "to be mended"
		if d.CanConfirm {
			want = "to be mended, or confirmed under the line " + d.Line
		}
		f.Fields = append(f.Fields, fault.Field{Name: "job_return." + d.Field, Got: d.Reason.Sentence, Want: want})
	}
	return f
}

// seen is a return that was looked over: what it becomes, and all that is wrong
// and odd about it, as the sheet and each service see it.
type seen struct {
	back   jobsheet.Return
	work   jobsheet.Work
	doubts []jobsheet.Doubt
}

// looked reads a return and looks it over.
func (s *Service) looked(ctx context.Context, k jobsheetstore.Kept, p *jobsheetv1.JobReturn) (seen, error) {
	back, err := jobsheetwire.Return(p)
	if err != nil {
		return seen{}, fault.Under("job_return", err)
	}
	sheet, err := jobsheetwire.Sheet(k.Message.GetJobSheet())
	if err != nil {
		return seen{}, err
	}
	heard, err := s.hear(ctx, &sheet, &back)
	if err != nil {
		return seen{}, err
	}
	doubts := sheet.Check(&back, heard)
	for i := range back.Changes {
		if c := &back.Changes[i]; access.CallerFrom(ctx).Role == access.Dealer && c.Source != build.SourceUnspecified && c.Source != build.SourceService {
			doubts = append(doubts, jobsheet.Doubt{Field: "changes", Reason: vehicle.Reason{Rule: "CHANGE_SOURCE", Sentence: "A dealer's change is done in service: the works says so of its own, and of campaigns."}})
		}
	}
	work := sheet.Follow(&back)
	more, err := s.validate(ctx, &sheet, &work)
	return seen{back, work, append(doubts, more...)}, err
}

// hear asks the schedule service about each number against all that is on record.
func (s *Service) hear(ctx context.Context, sheet *jobsheet.Sheet, back *jobsheet.Return) (jobsheet.Heard, error) {
	heard := jobsheet.Heard{Values: map[string]vehicle.Reason{}, Packs: map[string]jobsheet.Choice{}}
	parent, day := "vehicles/"+string(sheet.Serial), vehiclewire.DateProto(back.Date)
	for i := range back.Jobs {
		for _, m := range back.Jobs[i].Values {
			j, v := find(sheet, m.Line)
			if v == nil || j.Remedy() {
				continue
			}
			if set, ok := j.Setting(v, m.Value); ok {
				if c, err := s.pack(ctx, sheet.Serial, set, set.Pack, jobsheet.Trial{Measured: m.Value}); err == nil {
					heard.Packs[m.Line] = c
				}
			}
			judged, err := s.Schedules.JudgeMeasurement(ctx, &schedulev1.JudgeMeasurementRequest{
				Parent: parent, Value: vehiclewire.QuantityProto(m.Value), Position: v.Position, Characteristic: v.Limit.Characteristic, ItemId: j.Item, MeasuredDate: day,
			})
			if err != nil { // what is wrong with it the checks say too
				if rpcerr.FromStatus(err).Kind == fault.Unavailable {
					return heard, rpcerr.FromStatus(err)
				}
				continue
			}
			if judged.GetImplausible() && len(judged.GetReasons()) > 1 {
				why := jobsheetwire.Reason(judged.GetReasons()[1])
				why.Sentence = "Line " + m.Line + ": " + why.Sentence
				heard.Values[m.Line] = why
			}
		}
	}
	if back.Reading.IsZero() || back.Date.IsZero() {
		return heard, nil
	}
	reading, err := s.Schedules.RecordReading(ctx, &schedulev1.RecordReadingRequest{Parent: parent, ValidateOnly: true, Reading: &schedulev1.Reading{
		ReadingDate: day, Value: vehiclewire.EnteredProto(back.Reading), Source: schedulev1.ReadingSource_READING_SOURCE_DEALER,
	}})
	if err != nil {
		if rpcerr.FromStatus(err).Kind == fault.Unavailable {
			return heard, rpcerr.FromStatus(err)
		}
		return heard, nil
	}
	if reading.GetState() == schedulev1.ReadingState_READING_STATE_DOUBTFUL {
		why := vehicle.Reason{Rule: "READING_DOUBTFUL", Sentence: "The odometer reading of " + back.Reading.Text() + " is doubtful."}
		for _, e := range reading.GetExplanations() {
			why.Sentence += " " + e.GetSentence()
			why.Facts = append(why.Facts, vehicle.Fact{Name: "explanation", Value: e.GetRule()})
		}
		heard.Reading = &why
	}
	return heard, nil
}

func find(sheet *jobsheet.Sheet, line string) (*jobsheet.Job, *jobsheet.Value) {
	for i := range sheet.Jobs {
		for k := range sheet.Jobs[i].Values {
			if sheet.Jobs[i].Values[k].Line == line {
				return &sheet.Jobs[i], &sheet.Jobs[i].Values[k]
			}
		}
	}
	return nil, nil
}

// validate lets each service look over what it would be asked to record.
func (s *Service) validate(ctx context.Context, sheet *jobsheet.Sheet, w *jobsheet.Work) ([]jobsheet.Doubt, error) {
	var doubts []jobsheet.Doubt
	note := func(under string, f *fault.Error) error {
		if f == nil {
			return nil
		}
		if f.Kind == fault.Unavailable || f.Kind == fault.Internal {
			return f
		}
		if len(f.Fields) == 0 {
			doubts = append(doubts, jobsheet.Doubt{Field: under, Reason: vehicle.Reason{Rule: f.Reason, Sentence: f.Message}})
		}
		for _, field := range f.Fields {
			field = w.Refer(field)
			doubts = append(doubts, jobsheet.Doubt{Field: field.Name, Reason: vehicle.Reason{Rule: f.Reason, Sentence: wanted(field)}})
		}
		return nil
	}
	parent := "vehicles/" + string(sheet.Serial)
	_, err := s.Schedules.RecordService(ctx, &schedulev1.RecordServiceRequest{Parent: parent, ServiceEntry: jobsheetwire.EntryProto(&w.Entry), ValidateOnly: true})
	if err := note("jobs", rpcerr.FromStatus(err)); err != nil {
		return nil, err
	}
	if len(w.Changes) > 0 {
		_, err := s.Builds.RecordChanges(recorder(ctx, access.CallerFrom(ctx)), &buildv1.RecordChangesRequest{Parent: "builds/" + string(sheet.Serial), Changes: jobsheetwire.ChangesProto(w), ValidateOnly: true})
		if err := note("changes", rpcerr.FromStatus(err)); err != nil {
			return nil, err
		}
	}
	for i := range w.Steps {
		f, err := s.Bulletins.GetFollowUp(ctx, &bulletinv1.GetFollowUpRequest{Name: w.Steps[i].FollowUp})
		if err == nil {
			_, err = s.Bulletins.RecordFollowUpStep(ctx, &bulletinv1.RecordFollowUpStepRequest{
				Name: w.Steps[i].FollowUp, Etag: f.GetEtag(), Step: jobsheetwire.StepProto(&w.Steps[i], parent+"/serviceEntries/-"), ValidateOnly: true,
			})
		}
		refused := rpcerr.FromStatus(err)
		if refused != nil {
			for k := range refused.Fields { // which of the steps
				refused.Fields[k].Name = fmt.Sprintf("steps[%d].%s", i, strings.TrimPrefix(refused.Fields[k].Name, "step."))
			}
		}
		if err := note("jobs", refused); err != nil {
			return nil, err
		}
	}
	return doubts, nil
}

// wanted says a refusal of a field in a sentence.
func wanted(f fault.Field) string {
	if f.Got == "" {
		return "Wanted is " + f.Want + "."
	}
	return "Got " + f.Got + ", want " + f.Want + "."
}

// recorder is this service speaking for whoever sent a sheet: the build service
// records under their name what they could not record by themselves.
func recorder(ctx context.Context, c access.Caller) context.Context {
	return access.NewContext(ctx, access.Caller{Role: access.Service, Bearer: c.Bearer, Credential: "process"})
}

// cloned is a sheet to be changed.
func cloned(k jobsheetstore.Kept) jobsheetstore.Kept {
	k.Message = proto.CloneOf(k.Message)
	return k
}

// rouse tells whoever leads that there is something to carry on.
func (s *Service) rouse() {
	select {
	case s.wake <- struct{}{}:
	default:
	}
}
