package warrantywire

import (
	"google.golang.org/protobuf/proto"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/warranty"
)

// Term reads a version.
func Term(m *warrantyv1.WarrantyTerm) (warranty.Term, error) {
	r := &vehiclewire.Reader{}
	id, version, err := TermID("name", m.GetName())
	r.Refuse("name", err)
	t := warranty.Term{
		ID: id, Version: version, Title: m.GetTitle(), Giver: vehiclewire.Enum[warranty.Giver](m.GetGiver()), Supplier: m.GetSupplier(),
		Releases: m.GetReleases(), Positions: m.GetPositions(), Parts: m.GetParts(),
		Start: vehiclewire.Enum[warranty.Start](m.GetStart()), Months: int(m.GetMonths()), Distance: r.Distance("distance", m.GetDistance()),
		Midnight: vehiclewire.Enum[warranty.Midnight](m.GetMidnight()), CoversParts: m.GetCoversParts(), CoversWork: m.GetCoversLabour(),
		Conditions: m.GetConditions(), Transferable: m.GetTransferable(), ExtendedByDaysOut: m.GetExtendedByDaysOut(),
		Repair:    warranty.RepairTerm{Months: int(m.GetRepair().GetMonths()), Distance: r.Distance("repair.distance", m.GetRepair().GetDistance())},
		Effective: r.Date("effective_date", m.GetEffectiveDate()), Withdrawn: m.GetWithdrawn(), Sample: m.GetSample(), SignedBy: m.GetSignedBy(),
	}
	for _, x := range m.GetExclusions() {
		t.Exclusions = append(t.Exclusions, warranty.Exclusion{ID: x.GetExclusionId(), Text: x.GetText(), Positions: x.GetPositions()})
	}
	return t, r.Err()
}

// TermProto writes a version, without when it was recorded and without the etag.
func TermProto(t warranty.Term) *warrantyv1.WarrantyTerm {
	m := &warrantyv1.WarrantyTerm{
		Name: t.Name(), Title: t.Title, Giver: warrantyv1.WarrantyGiver(t.Giver), Supplier: t.Supplier,
		Releases: t.Releases, Positions: t.Positions, Parts: t.Parts,
		Start: warrantyv1.WarrantyStart(t.Start), Months: int32(t.Months), Distance: limit(t.Distance),
		Midnight: warrantyv1.WarrantyMidnight(t.Midnight), CoversParts: t.CoversParts, CoversLabour: t.CoversWork,
		Conditions: t.Conditions, Transferable: t.Transferable, ExtendedByDaysOut: t.ExtendedByDaysOut,
		EffectiveDate: vehiclewire.DateProto(t.Effective), Withdrawn: t.Withdrawn, Sample: t.Sample, SignedBy: t.SignedBy,
	}
	if t.Repair != (warranty.RepairTerm{}) {
		m.Repair = &warrantyv1.RepairTerm{Months: int32(t.Repair.Months), Distance: limit(t.Repair.Distance)}
	}
	for _, x := range t.Exclusions {
		m.Exclusions = append(m.Exclusions, &warrantyv1.WarrantyExclusion{ExclusionId: x.ID, Text: x.Text, Positions: x.Positions})
	}
	return m
}

// Settled brings the distances of a version to the form that is stored, digits
// and millimetres beside each other, in place. The version was read before.
func Settled(m *warrantyv1.WarrantyTerm) {
	if e, err := vehiclewire.Entered(m.GetDistance()); err == nil && !e.IsZero() {
		m.Distance = vehiclewire.EnteredProto(e)
	}
	if e, err := vehiclewire.Entered(m.GetRepair().GetDistance()); err == nil && !e.IsZero() {
		repair := proto.CloneOf(m.GetRepair())
		repair.Distance = vehiclewire.EnteredProto(e)
		m.Repair = repair
	}
}
