package bulletinwire

import (
	"strconv"
	"time"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/bulletin"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// FollowUpID reads the name of a follow-up. field is the request's.
func FollowUpID(field, name string) (vehicle.Serial, string, error) {
	serial, ids, err := resname.Serial(field, FollowUpPattern, name)
	if err != nil {
		return "", "", err
	}
	return serial, ids[0], nil
}

// FollowUp reads a vehicle on the list of a campaign, as it is stored.
func FollowUp(p *bulletinv1.FollowUp) (bulletin.FollowUp, error) {
	var r reader
	serial, id, err := FollowUpID("name", p.GetName())
	r.Refuse("name", err)
	_, version, err := VersionName("bulletin", p.GetBulletin())
	r.Refuse("bulletin", err)
	f := bulletin.FollowUp{
		Serial: serial, Bulletin: id, Version: version, Entered: r.Date("enter_date", p.GetEnterDate()), Because: reasons(p.GetEnteredBecause()),
		Imported: vehiclewire.Moment(p.GetImportTime()),
	}
	for i, s := range p.GetSteps() {
		f.Steps = append(f.Steps, r.step(vehiclewire.At("steps", i, ""), s))
	}
	return f, r.Err()
}

// Step reads what somebody says happened. Who recorded it, and when, is not
// theirs to say.
func Step(p *bulletinv1.FollowUpStep) (bulletin.Step, error) {
	var r reader
	s := r.step("", p)
	s.RecordedBy, s.Recorded = "", time.Time{}
	return s, r.Err()
}

func (r *reader) step(path string, p *bulletinv1.FollowUpStep) bulletin.Step {
	s := bulletin.Step{
		Kind: bulletin.StepKind(p.GetKind()), Date: r.Date(path+"step_date", p.GetStepDate()), Evidence: p.GetEvidence(), Text: p.GetText(),
		Organisation: organisationID(p.GetOrganisation()), Reading: r.Entered(path+"reading", p.GetReading()),
		Letter: p.GetLetter(), RecordedBy: p.GetRecordedBy(), Recorded: vehiclewire.Moment(p.GetCreateTime()),
	}
	for _, part := range p.GetParts() {
		s.Parts = append(s.Parts, bulletin.PartUsed{Part: part.GetPart(), Lot: part.GetLot(), Position: part.GetPosition(), Quantity: int(part.GetQuantity())})
	}
	for i, m := range p.GetMeasured() {
		q, err := vehiclewire.Quantity(m.GetValue())
		r.Refuse(path+vehiclewire.At("measured", i, "value"), err)
		s.Measured = append(s.Measured, bulletin.Measurement{Item: m.GetItemId(), Characteristic: m.GetCharacteristic(), Value: q})
	}
	return s
}

func reasons(all []*vehiclev1.Reason) []vehicle.Reason {
	var out []vehicle.Reason
	for _, p := range all {
		r := vehicle.Reason{Rule: p.GetRule(), Record: p.GetRecord(), Sentence: p.GetSentence()}
		for _, f := range p.GetFacts() {
			r.Facts = append(r.Facts, vehicle.Fact{Name: f.GetName(), Value: f.GetValue()})
		}
		out = append(out, r)
	}
	return out
}

// KeptFollowUp writes a follow-up as it is stored: without what is computed.
func KeptFollowUp(f *bulletin.FollowUp) *bulletinv1.FollowUp {
	p := &bulletinv1.FollowUp{
		Name: f.Name(), Bulletin: bulletin.Name(f.Bulletin) + "/versions/" + strconv.Itoa(f.Version),
		EnterDate: vehiclewire.DateProto(f.Entered), EnteredBecause: vehiclewire.Reasons(f.Because),
		ImportTime: vehiclewire.MomentProto(f.Imported),
	}
	for i := range f.Steps {
		p.Steps = append(p.Steps, stepProto(&f.Steps[i]))
	}
	return p
}

func stepProto(s *bulletin.Step) *bulletinv1.FollowUpStep {
	p := &bulletinv1.FollowUpStep{
		Kind: bulletinv1.FollowUpStepKind(s.Kind), StepDate: vehiclewire.DateProto(s.Date), Evidence: s.Evidence, Text: s.Text,
		Organisation: organisationName(s.Organisation), Reading: vehiclewire.EnteredProto(s.Reading),
		Letter: s.Letter, RecordedBy: s.RecordedBy, CreateTime: vehiclewire.MomentProto(s.Recorded),
	}
	for _, part := range s.Parts {
		p.Parts = append(p.Parts, &bulletinv1.PartFitted{Part: part.Part, Lot: part.Lot, Position: part.Position, Quantity: int32(part.Quantity)})
	}
	for _, m := range s.Measured {
		p.Measured = append(p.Measured, &bulletinv1.RemedyValue{ItemId: m.Item, Characteristic: m.Characteristic, Value: vehiclewire.QuantityProto(m.Value)})
	}
	return p
}

// FollowUpProto writes a follow-up as it stands on a day under the version that
// holds. Its etag is for the caller to add.
func FollowUpProto(f *bulletin.FollowUp, b *bulletin.Bulletin, on vehicle.Date) *bulletinv1.FollowUp {
	p := KeptFollowUp(f)
	now := f.Standing()
	open := !now.State.Settled()
	p.Title, p.State, p.Round, p.Sentence = b.Title, bulletinv1.FollowUpState(now.State), int32(now.Round), f.Sentence(on)
	p.NoLongerMeets = !now.NoLongerMeets.IsZero()
	p.StopUse, p.HoldDelivery = open && b.StopUse, open && b.HoldDelivery
	p.SinceDate, p.NotifiedDate, p.BookedDate = vehiclewire.DateProto(now.Since), vehiclewire.DateProto(now.NotifiedFirst), vehiclewire.DateProto(now.BookedFor)
	by, after := f.Reinspection(b)
	p.ReinspectByDate = vehiclewire.DateProto(by)
	if after != 0 {
		p.ReinspectAtDistance = vehiclewire.DistanceProto(after)
	}
	for _, l := range f.Letters(b, on) {
		p.LetterDates = append(p.LetterDates, vehiclewire.DateProto(l.Date))
	}
	if l, ok := f.Tell(b, on); ok {
		p.Letter = &bulletinv1.FollowUpLetter{Cycle: l.Cycle, Round: int32(l.Round), Number: int32(l.Number), LetterDate: vehiclewire.DateProto(l.Date)}
	}
	return p
}
