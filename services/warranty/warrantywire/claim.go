package warrantywire

import (
	"strings"

	"halfshaft/services/internal/resname"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/warranty"
)

// Claim reads a claim, all but the cover that was kept with it: see Cover. A
// claim that is not recorded yet has no name.
func Claim(m *warrantyv1.Claim) (warranty.Claim, error) {
	r := &vehiclewire.Reader{}
	c := warranty.Claim{
		State: vehiclewire.Enum[warranty.ClaimState](m.GetState()), Position: m.GetPosition(), Failed: r.Date("failure_date", m.GetFailureDate()),
		Reading: r.Entered("reading", m.GetReading()), Symptom: m.GetSymptom(), Cause: m.GetCause(), Remedy: m.GetRemedy(),
		Currency: m.GetCurrency(), Exclusions: m.GetExclusions(), ServiceEntry: m.GetServiceEntry(), Organisation: m.GetOrganisation(),
		RecordedBy: m.GetRecordedBy(), Created: vehiclewire.Moment(m.GetCreateTime()),
	}
	if m.GetName() != "" {
		serial, ids, err := resname.Serial("name", ClaimForm, m.GetName())
		if err != nil {
			r.Refuse("name", err)
		} else {
			c.Serial, c.ID = serial, ids[0]
		}
	}
	for _, p := range m.GetParts() {
		c.Parts = append(c.Parts, warranty.ClaimPart{Part: p.GetPart(), Quantity: int(p.GetQuantity()), FailedLot: p.GetFailedLot(),
			FittedLot: p.GetFittedLot(), UnitPrice: p.GetUnitPriceMinor()})
	}
	for _, l := range m.GetLabour() {
		c.Labour = append(c.Labour, warranty.ClaimLabour{Text: l.GetText(), Minutes: int(l.GetMinutes()), Rate: l.GetHourlyRateMinor()})
	}
	for _, o := range m.GetOtherCosts() {
		c.Other = append(c.Other, warranty.ClaimCost{Text: o.GetText(), Amount: o.GetAmountMinor()})
	}
	if a := m.GetAuthorisation(); a != nil {
		c.Authorisation = &warranty.Authorisation{Limit: a.GetLimitMinor(), Text: a.GetText(), By: a.GetAuthorisedBy(), Time: vehiclewire.Moment(a.GetAuthoriseTime())}
	}
	for i, d := range m.GetDecisions() {
		one, err := Decision(d)
		if err != nil {
			r.Refuse(vehiclewire.At("decisions", i, "appeal_until_date"), err)
		}
		c.Decisions = append(c.Decisions, one)
	}
	for _, s := range m.GetSteps() {
		c.Steps = append(c.Steps, warranty.Step{State: vehiclewire.Enum[warranty.ClaimState](s.GetState()), Text: s.GetText(), By: s.GetRecordedBy(), Time: vehiclewire.Moment(s.GetCreateTime())})
	}
	if m.GetRecovery() != nil {
		back := Recovery(m.GetRecovery())
		c.Recovery = &back
	}
	return c, r.Err()
}

// Decision reads a decision.
func Decision(m *warrantyv1.ClaimDecision) (warranty.Decision, error) {
	until, err := vehiclewire.Date(m.GetAppealUntilDate())
	return warranty.Decision{
		Outcome: vehiclewire.Enum[warranty.Outcome](m.GetOutcome()), Parts: m.GetPartsMinor(), Work: m.GetLabourMinor(), Other: m.GetOtherMinor(),
		Reason: m.GetReason(), Exclusion: m.GetExclusionId(), By: m.GetDecidedBy(), Time: vehiclewire.Moment(m.GetDecideTime()), AppealUntil: until,
	}, err
}

// Recovery reads what a supplier gives back.
func Recovery(m *warrantyv1.ClaimRecovery) warranty.Recovery {
	return warranty.Recovery{
		State: vehiclewire.Enum[warranty.RecoveryState](m.GetState()), Supplier: m.GetSupplier(), Term: m.GetTerm(), Asked: m.GetAskedMinor(),
		Received: m.GetReceivedMinor(), Text: m.GetText(),
	}
}

// ClaimProto writes a claim with its sums, all but the cover kept with it.
func ClaimProto(c *warranty.Claim) *warrantyv1.Claim {
	m := &warrantyv1.Claim{
		Name: c.Name(), State: warrantyv1.ClaimState(c.State), Position: c.Position, FailureDate: vehiclewire.DateProto(c.Failed),
		Reading: vehiclewire.EnteredProto(c.Reading), Symptom: c.Symptom, Cause: c.Cause, Remedy: c.Remedy, Currency: c.Currency,
		Exclusions: c.Exclusions, ServiceEntry: c.ServiceEntry, Organisation: c.Organisation, Totals: TotalsProto(c.Totals()),
		RecordedBy: c.RecordedBy, CreateTime: vehiclewire.MomentProto(c.Created),
	}
	for _, p := range c.Parts {
		m.Parts = append(m.Parts, &warrantyv1.ClaimPart{Part: p.Part, Quantity: int32(p.Quantity), FailedLot: p.FailedLot, FittedLot: p.FittedLot, UnitPriceMinor: p.UnitPrice})
	}
	for _, l := range c.Labour {
		m.Labour = append(m.Labour, &warrantyv1.ClaimLabour{Text: l.Text, Minutes: int32(l.Minutes), HourlyRateMinor: l.Rate})
	}
	for _, o := range c.Other {
		m.OtherCosts = append(m.OtherCosts, &warrantyv1.ClaimCost{Text: o.Text, AmountMinor: o.Amount})
	}
	if a := c.Authorisation; a != nil {
		m.Authorisation = &warrantyv1.ClaimAuthorisation{LimitMinor: a.Limit, Text: a.Text, AuthorisedBy: a.By, AuthoriseTime: vehiclewire.MomentProto(a.Time)}
	}
	for _, d := range c.Decisions {
		m.Decisions = append(m.Decisions, &warrantyv1.ClaimDecision{
			Outcome: warrantyv1.ClaimOutcome(d.Outcome), PartsMinor: d.Parts, LabourMinor: d.Work, OtherMinor: d.Other, Reason: d.Reason,
			ExclusionId: d.Exclusion, DecidedBy: d.By, DecideTime: vehiclewire.MomentProto(d.Time), AppealUntilDate: vehiclewire.DateProto(d.AppealUntil),
		})
	}
	for _, s := range c.Steps {
		m.Steps = append(m.Steps, &warrantyv1.ClaimStep{State: warrantyv1.ClaimState(s.State), Text: s.Text, RecordedBy: s.By, CreateTime: vehiclewire.MomentProto(s.Time)})
	}
	if b := c.Recovery; b != nil {
		m.Recovery = &warrantyv1.ClaimRecovery{State: warrantyv1.RecoveryState(b.State), Supplier: b.Supplier, Term: b.Term, AskedMinor: b.Asked, ReceivedMinor: b.Received, Text: b.Text}
	}
	return m
}

// TotalsProto writes sums.
func TotalsProto(t warranty.Totals) *warrantyv1.ClaimTotals {
	return &warrantyv1.ClaimTotals{
		PartsMinor: t.Parts, LabourMinor: t.Work, OtherMinor: t.Other, ClaimedMinor: t.Claimed, PaidMinor: t.Paid, RecoveredMinor: t.Recovered, NetMinor: t.Net,
	}
}

// SumProto writes the sum of the claims with one key.
func SumProto(s warranty.Sum) *warrantyv1.ClaimSum {
	return &warrantyv1.ClaimSum{Key: s.Key, Currency: s.Currency, Claims: int32(s.Claims), Accepted: int32(s.Accepted), Totals: TotalsProto(s.Totals)}
}

// lastSegment is what stands behind the last slash of a name.
func lastSegment(name string) string { return name[strings.LastIndexByte(name, '/')+1:] }
