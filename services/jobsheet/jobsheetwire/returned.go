package jobsheetwire

import (
	"fmt"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
	"halfshaft/services/jobsheet"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle/vehiclewire"
)

// returning reads what somebody sent and collects all that cannot be read.
type returning struct{ wrong []fault.Field }

func (r *returning) note(path string, err error) {
	r.wrong = append(r.wrong, fault.FieldsOf(path, err)...)
}

// Return reads what came back. The error names all fields that cannot be read.
func Return(p *jobsheetv1.JobReturn) (jobsheet.Return, error) {
	var r returning
	out := jobsheet.Return{
		DoneBy: p.GetDoneBy(), Note: p.GetNote(), Records: p.GetRecords(), TakenInBy: p.GetTakenInBy(), TakenIn: vehiclewire.Moment(p.GetCreateTime()),
	}
	var err error
	out.Date, err = vehiclewire.Date(p.GetServiceDate())
	r.note("service_date", err)
	out.Reading, err = vehiclewire.Entered(p.GetReading())
	r.note("reading", err)
	for i, d := range p.GetJobs() {
		out.Jobs = append(out.Jobs, r.done(fmt.Sprintf("jobs[%d]", i), d))
	}
	for i, u := range p.GetParts() {
		if u.GetPart() == "" || u.GetQuantity() < 0 {
			r.wrong = append(r.wrong, fault.Field{Name: fmt.Sprintf("parts[%d]", i), Got: u.GetPart(), Want: "a part number, and how many"})
		}
		out.Parts = append(out.Parts, jobsheet.PartUsed{Number: u.GetPart(), Lot: u.GetLot(), Quantity: max(1, int(u.GetQuantity()))})
	}
	for i, c := range p.GetChanges() {
		change, err := buildwire.Change(c)
		r.note(fmt.Sprintf("changes[%d]", i), err)
		out.Changes = append(out.Changes, change)
	}
	for _, c := range p.GetConfirmed() {
		out.Confirmed = append(out.Confirmed, jobsheet.Confirmation{Line: c.GetLine(), Text: c.GetText()})
	}
	return out, fault.InvalidFields(r.wrong)
}

func (r *returning) done(at string, p *jobsheetv1.JobDone) jobsheet.Done {
	d := jobsheet.Done{Number: int(p.GetNumber()), Done: p.GetDone(), Note: p.GetNote()}
	for i, m := range p.GetValues() {
		value, err := vehiclewire.Quantity(m.GetValue())
		r.note(fmt.Sprintf("%s.values[%d].value", at, i), err)
		if err == nil && value.Unit == "" {
			r.wrong = append(r.wrong, fault.Field{Name: fmt.Sprintf("%s.values[%d].value", at, i), Got: m.GetValue().GetValue(), Want: "a number with its unit"})
		}
		d.Values = append(d.Values, jobsheet.Measured{Line: m.GetLine(), Value: value, Instrument: m.GetInstrument()})
	}
	for i, w := range p.GetShims() {
		work, err := schedulewire.ShimWork(w)
		r.note(fmt.Sprintf("%s.shims[%d]", at, i), err)
		d.Shims = append(d.Shims, work)
	}
	return d
}

// ReturnProto writes what came back.
func ReturnProto(r *jobsheet.Return) *jobsheetv1.JobReturn {
	p := &jobsheetv1.JobReturn{
		ServiceDate: vehiclewire.DateProto(r.Date), Reading: vehiclewire.EnteredProto(r.Reading), DoneBy: r.DoneBy, Note: r.Note,
		Records: r.Records, TakenInBy: r.TakenInBy, CreateTime: vehiclewire.MomentProto(r.TakenIn), Parts: usedProto(r.Parts),
	}
	for i := range r.Jobs {
		d := &r.Jobs[i]
		done := &jobsheetv1.JobDone{Number: int32(d.Number), Done: d.Done, Note: d.Note}
		for _, m := range d.Values {
			done.Values = append(done.Values, &jobsheetv1.JobMeasured{Line: m.Line, Value: vehiclewire.QuantityProto(m.Value), Instrument: m.Instrument})
		}
		for k := range d.Shims {
			done.Shims = append(done.Shims, schedulewire.ShimWorkProto(&d.Shims[k]))
		}
		p.Jobs = append(p.Jobs, done)
	}
	for _, c := range r.Changes {
		change := buildwire.ChangeProto(c)
		change.Name = ""
		p.Changes = append(p.Changes, change)
	}
	for _, c := range r.Confirmed {
		p.Confirmed = append(p.Confirmed, &jobsheetv1.JobConfirmation{Line: c.Line, Text: c.Text})
	}
	return p
}

func usedProto(parts []jobsheet.PartUsed) []*schedulev1.PartUsed {
	var out []*schedulev1.PartUsed
	for _, u := range parts {
		out = append(out, &schedulev1.PartUsed{Part: u.Number, Quantity: int32(u.Quantity), Lot: u.Lot})
	}
	return out
}

// DoubtProto writes what is odd.
func DoubtProto(d jobsheet.Doubt) *jobsheetv1.JobDoubt {
	return &jobsheetv1.JobDoubt{Field: d.Field, Line: d.Line, CanConfirm: d.CanConfirm, Reason: vehiclewire.ReasonProto(d.Reason)}
}
