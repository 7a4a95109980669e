package jobsheetwire

import (
	"strconv"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/jobsheet"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// The forms of names.
const (
	VehicleForm = "vehicles/{serial}"
	SheetForm   = "vehicles/{serial}/jobSheets/{job_sheet}"
)

// SheetID reads the name of a sheet.
func SheetID(field, name string) (vehicle.Serial, int, error) {
	serial, ids, err := resname.Serial(field, SheetForm, name)
	if err != nil {
		return "", 0, err
	}
	n, err := strconv.Atoi(ids[0])
	if err != nil || n < 1 || strconv.Itoa(n) != ids[0] {
		return "", 0, fault.InvalidField(field, name, "vehicles/{serial}/jobSheets/{number}")
	}
	return serial, n, nil
}

// SheetProto writes a sheet.
func SheetProto(s *jobsheet.Sheet) *jobsheetv1.JobSheet {
	p := &jobsheetv1.JobSheet{
		Plate: s.Plate, Name: s.Name(), VisitDate: vehiclewire.DateProto(s.Visit), State: jobsheetv1.JobSheetState(s.State),
		Distance: &jobsheetv1.JobDistance{
			Last: vehiclewire.EnteredProto(s.Distance.Last), LastDate: vehiclewire.DateProto(s.Distance.LastDate), Dial: s.Distance.Dial,
			Unit: string(s.Distance.Unit),
		},
		Cautions: s.Cautions, Warnings: vehiclewire.Reasons(s.Warnings), Tools: s.Tools, Sample: s.Sample, Sources: s.Sources,
		Gaps: vehiclewire.Reasons(s.Gaps), MadeBy: s.MadeBy, CreateTime: vehiclewire.MomentProto(s.Created),
		Parts: partsProto(s.Parts), Fluids: fluidsProto(s.Fluids),
	}
	if s.Distance.Expected != 0 {
		p.Distance.Expected = expectedProto(s.Distance)
	}
	for _, f := range s.Identity {
		p.Identity = append(p.Identity, &jobsheetv1.JobFact{Label: f.Label, Value: f.Value})
	}
	for i := range s.Jobs {
		p.Jobs = append(p.Jobs, jobProto(&s.Jobs[i]))
	}
	if s.Return != nil {
		p.JobReturn = ReturnProto(s.Return)
	}
	if s.Refusal != nil {
		p.Refusal = vehiclewire.ReasonProto(*s.Refusal)
	}
	return p
}

// expectedProto writes what the dial is expected to show, in its unit.
func expectedProto(d jobsheet.Distance) *vehiclev1.Distance {
	p := vehiclewire.DistanceProto(d.Expected)
	p.EnteredUnit, p.EnteredValue = string(d.Unit), strconv.FormatInt(d.Expected.Whole(d.Unit), 10)
	return p
}

func partsProto(parts []jobsheet.Part) []*jobsheetv1.JobPart {
	var out []*jobsheetv1.JobPart
	for _, p := range parts {
		out = append(out, &jobsheetv1.JobPart{
			Part: p.Number, Title: p.Title, Quantity: int32(p.Quantity), Position: p.Position, Why: p.Why, IfNeeded: p.IfNeeded,
		})
	}
	return out
}

func fluidsProto(fluids []jobsheet.Fluid) []*jobsheetv1.JobFluid {
	var out []*jobsheetv1.JobFluid
	for _, f := range fluids {
		out = append(out, &jobsheetv1.JobFluid{
			Fluid: f.Fluid, Quantity: vehiclewire.QuantityProto(f.Quantity), Position: f.Position, Method: f.Method, NeverMix: f.NeverMix, Caution: f.Caution,
		})
	}
	return out
}

func jobProto(j *jobsheet.Job) *jobsheetv1.Job {
	p := &jobsheetv1.Job{
		Number: int32(j.Number), ItemId: j.Item, Title: j.Title, Position: j.Position, Why: j.Why, Cautions: j.Cautions,
		Methods: j.Methods, DocRefs: j.Docs, Parts: partsProto(j.Parts), Fluids: fluidsProto(j.Fluids), Tools: j.Tools,
		Minutes: int32(j.Minutes), Group: j.Group, FollowUp: j.FollowUp, RemedyItem: j.RemedyItem,
	}
	for _, s := range j.Settings {
		p.Settings = append(p.Settings, &jobsheetv1.JobSetting{
			Title: s.Title, Position: s.Position, Lower: s.Lower, Target: s.Target, Upper: s.Upper, Unit: s.Unit, Method: s.Method,
		})
	}
	for i := range j.Values {
		p.Values = append(p.Values, valueProto(&j.Values[i]))
	}
	for _, s := range j.Shims {
		p.Shims = append(p.Shims, &jobsheetv1.JobShims{
			Line: s.Line, Position: s.Position, Characteristic: s.Characteristic, Subject: s.Subject, Pack: vehiclewire.QuantityProto(s.Pack),
			PackText: s.PackText, Window: s.Window, Sizes: s.Sizes, Choices: choicesProto(s.Choices),
		})
	}
	return p
}

func choicesProto(all []jobsheet.Choice) []*jobsheetv1.JobShimChoice {
	var out []*jobsheetv1.JobShimChoice
	for _, c := range all {
		out = append(out, &jobsheetv1.JobShimChoice{
			Measured: vehiclewire.QuantityProto(c.Measured), Last: c.Last, PackText: c.PackText, Pack: vehiclewire.QuantityProto(c.Pack),
			Result: vehiclewire.QuantityProto(c.Result), Sentence: c.Sentence,
		})
	}
	return out
}

func valueProto(v *jobsheet.Value) *jobsheetv1.JobValue {
	p := &jobsheetv1.JobValue{
		Line: v.Line, Characteristic: v.Limit.Characteristic, Title: v.Title, Position: v.Position, Unit: v.Limit.Unit,
		Lower: bound(v.Limit.Lower), Upper: bound(v.Limit.Upper), Action: bound(v.Limit.Action), Method: v.Limit.Method, Trend: v.Trend,
	}
	for _, l := range v.Last {
		p.Last = append(p.Last, &jobsheetv1.JobLastValue{ValueDate: vehiclewire.DateProto(l.Date), Value: vehiclewire.QuantityProto(l.Value)})
	}
	return p
}

func bound(d *vehicle.Decimal) string {
	if d == nil {
		return ""
	}
	return d.String()
}

// Limit reads a limit of the programme or of a remedy.
func Limit(p *schedulev1.MeasuredLimit) (schedule.MeasuredLimit, error) {
	return limit(p.GetCharacteristic(), p.GetUnit(), [3]string{p.GetLower(), p.GetUpper(), p.GetAction()}, p.GetMethod())
}

func limit(characteristic, unit string, bounds [3]string, method string) (schedule.MeasuredLimit, error) {
	l := schedule.MeasuredLimit{Characteristic: characteristic, Unit: unit, Method: method}
	for i, at := range []**vehicle.Decimal{&l.Lower, &l.Upper, &l.Action} {
		if bounds[i] == "" {
			continue
		}
		d, err := vehicle.ParseDecimal(bounds[i])
		if err != nil {
			return l, err
		}
		*at = &d
	}
	return l, nil
}
