package jobsheetwire

import (
	"google.golang.org/genproto/googleapis/type/date"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/jobsheet"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// reader reads what this package wrote, and keeps the first thing that cannot be
// read.
type reader struct{ err error }

func (r *reader) note(err error) {
	if r.err == nil {
		r.err = err
	}
}

func (r *reader) date(d *date.Date) vehicle.Date {
	out, err := vehiclewire.Date(d)
	r.note(err)
	return out
}

func (r *reader) quantity(q *vehiclev1.Quantity) vehicle.Quantity {
	if q == nil {
		return vehicle.Quantity{}
	}
	out, err := vehiclewire.Quantity(q)
	r.note(err)
	return out
}

func (r *reader) entered(d *vehiclev1.Distance) vehicle.Entered {
	out, err := vehiclewire.Entered(d)
	r.note(err)
	return out
}

// Sheet reads a sheet as SheetProto wrote it.
func Sheet(p *jobsheetv1.JobSheet) (jobsheet.Sheet, error) {
	serial, number, err := SheetID("name", p.GetName())
	if err != nil {
		return jobsheet.Sheet{}, err
	}
	var r reader
	s := jobsheet.Sheet{
		Serial: serial, Number: number, Visit: r.date(p.GetVisitDate()), Plate: p.GetPlate(), State: jobsheet.State(p.GetState()),
		Distance: jobsheet.Distance{
			Last: r.entered(p.GetDistance().GetLast()), LastDate: r.date(p.GetDistance().GetLastDate()),
			Expected: vehicle.Distance(p.GetDistance().GetExpected().GetMillimetres()),
			Unit:     vehicle.Unit(p.GetDistance().GetUnit()), Dial: p.GetDistance().GetDial(),
		},
		Cautions: p.GetCautions(), Warnings: reasons(p.GetWarnings()), Parts: r.parts(p.GetParts()), Fluids: r.fluids(p.GetFluids()),
		Tools: p.GetTools(), Sample: p.GetSample(), Sources: p.GetSources(), Gaps: reasons(p.GetGaps()),
		MadeBy: p.GetMadeBy(), Created: vehiclewire.Moment(p.GetCreateTime()),
	}
	for _, f := range p.GetIdentity() {
		s.Identity = append(s.Identity, jobsheet.Fact{Label: f.GetLabel(), Value: f.GetValue()})
	}
	for _, j := range p.GetJobs() {
		s.Jobs = append(s.Jobs, r.job(j))
	}
	if p.GetJobReturn() != nil {
		back, err := Return(p.GetJobReturn())
		r.note(err)
		s.Return = &back
	}
	if p.GetRefusal() != nil {
		why := Reason(p.GetRefusal())
		s.Refusal = &why
	}
	return s, r.err
}

func (r *reader) parts(parts []*jobsheetv1.JobPart) []jobsheet.Part {
	var out []jobsheet.Part
	for _, p := range parts {
		out = append(out, jobsheet.Part{
			Number: p.GetPart(), Title: p.GetTitle(), Quantity: int(p.GetQuantity()), Position: p.GetPosition(), Why: p.GetWhy(), IfNeeded: p.GetIfNeeded(),
		})
	}
	return out
}

func (r *reader) fluids(fluids []*jobsheetv1.JobFluid) []jobsheet.Fluid {
	var out []jobsheet.Fluid
	for _, f := range fluids {
		out = append(out, jobsheet.Fluid{
			Fluid: f.GetFluid(), Quantity: r.quantity(f.GetQuantity()), Position: f.GetPosition(), Method: f.GetMethod(),
			NeverMix: f.GetNeverMix(), Caution: f.GetCaution(),
		})
	}
	return out
}

func (r *reader) job(p *jobsheetv1.Job) jobsheet.Job {
	j := jobsheet.Job{
		Number: int(p.GetNumber()), Item: p.GetItemId(), Title: p.GetTitle(), Group: p.GetGroup(), Position: p.GetPosition(), Why: p.GetWhy(),
		Cautions: p.GetCautions(), Methods: p.GetMethods(), Docs: p.GetDocRefs(), Parts: r.parts(p.GetParts()), Fluids: r.fluids(p.GetFluids()),
		Tools: p.GetTools(), Minutes: int(p.GetMinutes()), FollowUp: p.GetFollowUp(), RemedyItem: p.GetRemedyItem(),
	}
	for _, s := range p.GetSettings() {
		j.Settings = append(j.Settings, jobsheet.Setting{
			Title: s.GetTitle(), Position: s.GetPosition(), Lower: s.GetLower(), Target: s.GetTarget(), Upper: s.GetUpper(), Unit: s.GetUnit(), Method: s.GetMethod(),
		})
	}
	for _, v := range p.GetValues() {
		l, err := limit(v.GetCharacteristic(), v.GetUnit(), [3]string{v.GetLower(), v.GetUpper(), v.GetAction()}, v.GetMethod())
		r.note(err)
		value := jobsheet.Value{Line: v.GetLine(), Limit: l, Title: v.GetTitle(), Position: v.GetPosition(), Trend: v.GetTrend()}
		for _, last := range v.GetLast() {
			value.Last = append(value.Last, jobsheet.LastValue{Date: r.date(last.GetValueDate()), Value: r.quantity(last.GetValue())})
		}
		j.Values = append(j.Values, value)
	}
	for _, s := range p.GetShims() {
		j.Shims = append(j.Shims, jobsheet.Shims{
			Line: s.GetLine(), Position: s.GetPosition(), Characteristic: s.GetCharacteristic(), Subject: s.GetSubject(), Pack: r.quantity(s.GetPack()),
			PackText: s.GetPackText(), Window: s.GetWindow(), Sizes: s.GetSizes(), Choices: r.choices(s.GetChoices()),
		})
	}
	return j
}

func (r *reader) choices(all []*jobsheetv1.JobShimChoice) []jobsheet.Choice {
	var out []jobsheet.Choice
	for _, c := range all {
		out = append(out, jobsheet.Choice{
			Measured: r.quantity(c.GetMeasured()), Last: c.GetLast(), PackText: c.GetPackText(), Pack: r.quantity(c.GetPack()),
			Result: r.quantity(c.GetResult()), Sentence: c.GetSentence(),
		})
	}
	return out
}

// Reason reads a reason.
func Reason(p *vehiclev1.Reason) vehicle.Reason {
	r := vehicle.Reason{Rule: p.GetRule(), Record: p.GetRecord(), Sentence: p.GetSentence()}
	for _, f := range p.GetFacts() {
		r.Facts = append(r.Facts, vehicle.Fact{Name: f.GetName(), Value: f.GetValue()})
	}
	return r
}

func reasons(all []*vehiclev1.Reason) []vehicle.Reason {
	var out []vehicle.Reason
	for _, p := range all {
		out = append(out, Reason(p))
	}
	return out
}
