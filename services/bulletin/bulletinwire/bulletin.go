package bulletinwire

import (
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/bulletin"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Bulletin reads a version as it is stored, or as somebody hands it in.
func Bulletin(p *bulletinv1.Bulletin) (bulletin.Bulletin, error) {
	var r reader
	id, version, err := VersionName("name", p.GetName())
	if err == nil && version == 0 {
		r.Bad("name", p.GetName(), "the number of a version, from 1")
	}
	r.Refuse("name", err)
	b := bulletin.Bulletin{
		ID: id, Version: version, Kind: bulletin.Kind(p.GetKind()), State: bulletin.State(p.GetState()),
		Title: p.GetTitle(), Fault: p.GetFault(), Consequence: p.GetConsequence(), Meanwhile: p.GetMeanwhile(), Caution: p.GetCaution(),
		HoldDelivery: p.GetHoldDelivery(), StopUse: p.GetStopUse(),
		Set: r.set("set", p.GetSet()), Remedy: r.remedy("remedy", p.GetRemedy()), Plan: plan(p.GetFollowUp()),
		Issued:         r.Date("issue_date", p.GetIssueDate()),
		SupersededBy:   r.optionalID("superseded_by", p.GetSupersededBy()),
		WithdrawReason: p.GetWithdrawReason(),
		Determined:     r.Date("determined_date", p.GetDeterminedDate()),
		Reported:       r.Date("report_date", p.GetReportDate()),
		Sample:         p.GetSample(), SignedBy: p.GetSignedBy(),
	}
	return b, r.Err()
}

func plan(p *bulletinv1.FollowUpPlan) bulletin.Plan {
	out := bulletin.Plan{RepeatDays: int(p.GetRepeatDays())}
	for _, d := range p.GetLetterDays() {
		out.LetterDays = append(out.LetterDays, int(d))
	}
	return out
}

func (r *reader) remedy(path string, items []*bulletinv1.RemedyItem) []bulletin.RemedyItem {
	var out []bulletin.RemedyItem
	for i, p := range items {
		it := bulletin.RemedyItem{
			ID: p.GetItemId(), Title: p.GetTitle(), Tools: p.GetTools(), Caution: p.GetCaution(), Minutes: int(p.GetMinutes()),
			Reinspection: bulletin.Reinspection{
				Days:     int(p.GetReinspection().GetDays()),
				Distance: r.Distance(vehiclewire.At(path, i, "reinspection.distance"), p.GetReinspection().GetDistance()),
			},
		}
		for _, part := range p.GetParts() {
			it.Parts = append(it.Parts, bulletin.RemedyPart{Position: part.GetPosition(), Part: part.GetPart(), Quantity: int(part.GetQuantity())})
		}
		for k, m := range p.GetMeasured() {
			it.Measured = append(it.Measured, r.limit(vehiclewire.At(path, i, vehiclewire.At("measured", k, "")), m))
		}
		out = append(out, it)
	}
	return out
}

// limit reads what is measured, and its window; path ends with a point.
func (r *reader) limit(path string, m *schedulev1.MeasuredLimit) schedule.MeasuredLimit {
	return schedule.MeasuredLimit{
		Characteristic: m.GetCharacteristic(), Unit: m.GetUnit(), Method: m.GetMethod(),
		Lower: r.bound(path+"lower", m.GetLower()), Upper: r.bound(path+"upper", m.GetUpper()), Action: r.bound(path+"action", m.GetAction()),
	}
}

// bound reads a number that may be absent, which is not the same as 0.
func (r *reader) bound(path, text string) *vehicle.Decimal {
	if text == "" {
		return nil
	}
	v, err := vehicle.ParseDecimal(text)
	r.Refuse(path, err)
	return &v
}

// BulletinProto writes a version. When it was recorded, and its etag, are for
// the caller to add.
func BulletinProto(b *bulletin.Bulletin) *bulletinv1.Bulletin {
	p := &bulletinv1.Bulletin{
		Name: b.Name(), Kind: bulletinv1.BulletinKind(b.Kind), State: bulletinv1.BulletinState(b.State),
		Title: b.Title, Fault: b.Fault, Consequence: b.Consequence, Meanwhile: b.Meanwhile, Caution: b.Caution,
		HoldDelivery: b.HoldDelivery, StopUse: b.StopUse, Set: SetProto(&b.Set), FollowUp: planProto(b.Plan),
		IssueDate: vehiclewire.DateProto(b.Issued), SupersededBy: optionalName(b.SupersededBy), WithdrawReason: b.WithdrawReason,
		DeterminedDate: vehiclewire.DateProto(b.Determined), ReportDate: vehiclewire.DateProto(b.Reported),
		Sample: b.Sample, SignedBy: b.SignedBy,
	}
	for i := range b.Remedy {
		p.Remedy = append(p.Remedy, remedyProto(&b.Remedy[i]))
	}
	return p
}

func planProto(p bulletin.Plan) *bulletinv1.FollowUpPlan {
	if len(p.LetterDays) == 0 && p.RepeatDays == 0 {
		return nil
	}
	out := &bulletinv1.FollowUpPlan{RepeatDays: int32(p.RepeatDays)}
	for _, d := range p.LetterDays {
		out.LetterDays = append(out.LetterDays, int32(d))
	}
	return out
}

func remedyProto(it *bulletin.RemedyItem) *bulletinv1.RemedyItem {
	p := &bulletinv1.RemedyItem{ItemId: it.ID, Title: it.Title, Tools: it.Tools, Caution: it.Caution, Minutes: int32(it.Minutes)}
	for _, part := range it.Parts {
		p.Parts = append(p.Parts, &bulletinv1.RemedyPart{Position: part.Position, Part: part.Part, Quantity: int32(part.Quantity)})
	}
	for i := range it.Measured {
		p.Measured = append(p.Measured, limitProto(&it.Measured[i]))
	}
	if !it.Reinspection.IsZero() {
		p.Reinspection = &bulletinv1.Reinspection{Days: int32(it.Reinspection.Days)}
		if it.Reinspection.Distance != 0 {
			p.Reinspection.Distance = vehiclewire.DistanceProto(it.Reinspection.Distance)
		}
	}
	return p
}

func limitProto(m *schedule.MeasuredLimit) *schedulev1.MeasuredLimit {
	return &schedulev1.MeasuredLimit{
		Characteristic: m.Characteristic, Unit: m.Unit, Method: m.Method,
		Lower: boundText(m.Lower), Upper: boundText(m.Upper), Action: boundText(m.Action),
	}
}

func boundText(d *vehicle.Decimal) string {
	if d == nil {
		return ""
	}
	return d.String()
}
