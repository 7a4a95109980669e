package jobsheetwire

import (
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/jobsheet"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle/vehiclewire"
)

// EntryProto writes the service entry that a return becomes.
func EntryProto(e *jobsheet.Entry) *schedulev1.ServiceEntry {
	p := &schedulev1.ServiceEntry{
		ServiceDate: vehiclewire.DateProto(e.Date), Reading: vehiclewire.EnteredProto(e.Reading), Parts: usedProto(e.Parts), DoneBy: e.DoneBy, Note: e.Note,
	}
	for i := range e.Items {
		item := &e.Items[i]
		done := &schedulev1.ItemDone{ItemId: item.Item, Note: item.Note}
		for _, v := range item.Measured {
			done.Measured = append(done.Measured, &schedulev1.MeasuredValue{
				Characteristic: v.Characteristic, Position: v.Position, Value: vehiclewire.QuantityProto(v.Value), Instrument: v.Instrument,
			})
		}
		for k := range item.Shims {
			done.Shims = append(done.Shims, schedulewire.ShimWorkProto(&item.Shims[k]))
		}
		p.Items = append(p.Items, done)
	}
	return p
}

// ChangesProto writes the changes that a return becomes.
func ChangesProto(w *jobsheet.Work) []*buildv1.Change {
	var out []*buildv1.Change
	for _, c := range w.Changes {
		p := buildwire.ChangeProto(c)
		p.Name = ""
		out = append(out, p)
	}
	return out
}

// OutcomeProto writes what a return would become.
func OutcomeProto(w *jobsheet.Work) *jobsheetv1.JobOutcome {
	p := &jobsheetv1.JobOutcome{ServiceEntry: EntryProto(&w.Entry), Changes: ChangesProto(w)}
	for _, s := range w.Steps {
		p.FollowUps = append(p.FollowUps, s.FollowUp)
	}
	return p
}

// StepProto writes the step of a campaign that a return becomes.
func StepProto(s *jobsheet.Step, evidence string) *bulletinv1.FollowUpStep {
	p := &bulletinv1.FollowUpStep{
		Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, StepDate: vehiclewire.DateProto(s.Date),
		Evidence: evidence, Reading: vehiclewire.EnteredProto(s.Reading), Text: s.Text,
	}
	for _, u := range s.Parts {
		p.Parts = append(p.Parts, &bulletinv1.PartFitted{Part: u.Number, Lot: u.Lot, Position: u.Position, Quantity: int32(u.Quantity)})
	}
	for _, v := range s.Measured {
		p.Measured = append(p.Measured, &bulletinv1.RemedyValue{ItemId: v.Item, Characteristic: v.Characteristic, Value: vehiclewire.QuantityProto(v.Value)})
	}
	return p
}
