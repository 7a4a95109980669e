package works_test

import (
	"github.com/google/uuid"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// promised has the works promise something for every vehicle.
func (w *world) promised() {
	w.t.Helper()
	got(w.as("engineer").Warranties.CreateWarrantyTerm(w.ctx, &warrantyv1.CreateWarrantyTermRequest{RequestId: uuid.NewString(), WarrantyTerm: &warrantyv1.WarrantyTerm{
		Name: "warrantyTerms/WORKS-12/versions/1", Title: "One year", Giver: warrantyv1.WarrantyGiver_WARRANTY_GIVER_WORKS,
		Start: warrantyv1.WarrantyStart_WARRANTY_START_DELIVERY, Months: 12, CoversParts: true, CoversLabour: true,
		EffectiveDate: dayProto(aldermoor.Today.AddDays(-20_000)), Sample: true}}))(w.t)
}

// claimed has somebody claim for the vehicle of a letter.
func (w *world) claimed(letter string, by works.Clients) {
	w.t.Helper()
	c := got(by.Warranties.CreateClaim(w.ctx, &warrantyv1.CreateClaimRequest{Parent: "vehicles/" + w.serials[letter], RequestId: uuid.NewString(), Claim: aClaim()}))(w.t)
	w.on[letter]["claim"] = last(c.GetName())
}

// aClaim is one that can be handed in.
func aClaim() *warrantyv1.Claim {
	return &warrantyv1.Claim{
		Position: "gearbox", FailureDate: dayProto(aldermoor.Today.AddDays(-2)), Symptom: "jumps out of third", Cause: "worn selector", Remedy: "selector replaced",
		Parts:    []*warrantyv1.ClaimPart{{Part: "AP-1110", Quantity: 1, UnitPriceMinor: 12_000}},
		Labour:   []*warrantyv1.ClaimLabour{{Text: "gearbox out and in", Minutes: 300, HourlyRateMinor: 6_000}},
		Currency: "GBP",
	}
}

// outOfService has a vehicle stand.
func (w *world) outOfService(letter string) {
	w.t.Helper()
	s := got(w.as("support").Warranties.CreateOutOfServiceSpan(w.ctx, &warrantyv1.CreateOutOfServiceSpanRequest{Parent: "vehicles/" + w.serials[letter], RequestId: uuid.NewString(),
		OutOfServiceSpan: &warrantyv1.OutOfServiceSpan{StartDate: dayProto(aldermoor.Today.AddDays(-3)), Reason: "waiting for a gearbox"}}))(w.t)
	w.on[letter]["span"] = last(s.GetName())
}

// finishWarranty carries a claim through all that can become of one.
func (w *world) finishWarranty() {
	t, rid := w.t, uuid.NewString
	desk, engineer, admin := w.as("support").Warranties, w.as("engineer").Warranties, w.as("administrator").Warranties
	v := "vehicles/" + w.serials["A"]
	term := got(engineer.GetWarrantyTerm(w.ctx, &warrantyv1.GetWarrantyTermRequest{Name: "warrantyTerms/WORKS-12/versions/-"}))(t)
	term.Name, term.EffectiveDate = "warrantyTerms/WORKS-12/versions/2", dayProto(aldermoor.Today.AddDays(50))
	got(engineer.CreateWarrantyTerm(w.ctx, &warrantyv1.CreateWarrantyTermRequest{WarrantyTerm: term, RequestId: rid()}))(t)
	span := got(desk.ListOutOfServiceSpans(w.ctx, &warrantyv1.ListOutOfServiceSpansRequest{Parent: v}))(t).GetOutOfServiceSpans()[0]
	span.EndDate = dayProto(aldermoor.Today)
	got(desk.UpdateOutOfServiceSpan(w.ctx, &warrantyv1.UpdateOutOfServiceSpanRequest{OutOfServiceSpan: span, RequestId: rid()}))(t)

	c := got(desk.GetClaim(w.ctx, &warrantyv1.GetClaimRequest{Name: v + "/claims/" + w.on["A"]["claim"]}))(t)
	c.Cause = "worn selector fork"
	c = got(desk.UpdateClaim(w.ctx, &warrantyv1.UpdateClaimRequest{Claim: c, RequestId: rid()}))(t)
	c = got(desk.SubmitClaim(w.ctx, &warrantyv1.SubmitClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), RequestId: rid()}))(t)
	c = got(desk.AskClaimant(w.ctx, &warrantyv1.AskClaimantRequest{Name: c.GetName(), Etag: c.GetEtag(), Text: "A photograph?", RequestId: rid()}))(t)
	c = got(desk.SubmitClaim(w.ctx, &warrantyv1.SubmitClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Text: "It is with the gearbox.", RequestId: rid()}))(t)
	c = got(engineer.AuthoriseClaim(w.ctx, &warrantyv1.AuthoriseClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), LimitMinor: 5_000, Text: "to open it", RequestId: rid()}))(t)
	c = got(engineer.DecideClaim(w.ctx, &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), RequestId: rid(), Decision: &warrantyv1.ClaimDecision{
		Outcome: warrantyv1.ClaimOutcome_CLAIM_OUTCOME_GOODWILL, PartsMinor: 6_000, Reason: "half of the part"}}))(t)
	c = got(desk.AppealClaim(w.ctx, &warrantyv1.AppealClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Text: "it failed before", RequestId: rid()}))(t)
	c = got(admin.DecideClaim(w.ctx, &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), RequestId: rid(), Decision: &warrantyv1.ClaimDecision{
		Outcome: warrantyv1.ClaimOutcome_CLAIM_OUTCOME_GOODWILL, PartsMinor: 12_000, Reason: "all of the part"}}))(t)
	c = got(desk.RecordRecovery(w.ctx, &warrantyv1.RecordRecoveryRequest{Name: c.GetName(), Etag: c.GetEtag(), RequestId: rid(), Recovery: &warrantyv1.ClaimRecovery{
		State: warrantyv1.RecoveryState_RECOVERY_STATE_ASKED, Supplier: "Ferncombe Gears", AskedMinor: 12_000}}))(t)
	got(desk.CloseClaim(w.ctx, &warrantyv1.CloseClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), RequestId: rid()}))(t)
	got(desk.ListClaimSums(w.ctx, &warrantyv1.ListClaimSumsRequest{SumBy: warrantyv1.SumBy_SUM_BY_QUARTER}))(t)

	d := got(w.as("dealer-ferncombe").Warranties.GetClaim(w.ctx, &warrantyv1.GetClaimRequest{Name: "vehicles/" + w.serials["H"] + "/claims/" + w.on["H"]["claim"]}))(t)
	got(w.as("dealer-ferncombe").Warranties.WithdrawClaim(w.ctx, &warrantyv1.WithdrawClaimRequest{Name: d.GetName(), Etag: d.GetEtag(), RequestId: rid()}))(t)
}
