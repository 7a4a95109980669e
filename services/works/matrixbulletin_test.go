package works_test

import (
	"slices"

	"github.com/google/uuid"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// matrixCampaign is a campaign for every vehicle of our own.
const matrixCampaign = "C-MATRIX"

// aCampaign is one that can be issued, for vehicles by their serials.
func aCampaign(id string, serials ...string) *bulletinv1.Bulletin {
	return &bulletinv1.Bulletin{
		Name: "bulletins/" + id + "/versions/1", Kind: bulletinv1.BulletinKind_BULLETIN_KIND_CAMPAIGN, Title: "Propshaft bolts",
		Fault: "The bolts of the rear propshaft may be of too soft a steel.", Consequence: "A bolt can shear and the propshaft fall off.",
		Meanwhile: "Do not tow.", Caution: "Chock the wheels: the transmission brake does not hold with the propshaft off.",
		Sample: true, Set: &bulletinv1.BulletinSet{Serials: serials},
		Remedy: []*bulletinv1.RemedyItem{{ItemId: "C1", Title: "Replace the bolts", Minutes: 30, Parts: []*bulletinv1.RemedyPart{{Part: "AP-1110", Quantity: 4}},
			Measured:     []*schedulev1.MeasuredLimit{{Characteristic: "torque", Unit: "N.m", Lower: "40", Upper: "50"}},
			Reinspection: &bulletinv1.Reinspection{Days: 90}}},
	}
}

// issued has a campaign drafted and issued.
func (w *world) issued(b *bulletinv1.Bulletin) *bulletinv1.Bulletin {
	w.t.Helper()
	by := w.as("engineer").Bulletins
	b = got(by.CreateBulletin(w.ctx, &bulletinv1.CreateBulletinRequest{Bulletin: b, RequestId: uuid.NewString()}))(w.t)
	return got(by.IssueBulletin(w.ctx, &bulletinv1.IssueBulletinRequest{Name: b.GetName(), Etag: b.GetEtag(), RequestId: uuid.NewString()}))(w.t)
}

// campaigned puts every vehicle of our own on the list of a campaign.
func (w *world) campaigned() {
	w.t.Helper()
	var serials []string
	for letter, serial := range w.serials {
		if letter != "E" {
			serials = append(serials, serial)
		}
	}
	slices.Sort(serials)
	w.issued(aCampaign(matrixCampaign, serials...))
}

// stepped records a step of the campaign for the vehicle of a letter.
func (w *world) stepped(letter string, by works.Clients, step *bulletinv1.FollowUpStep) *bulletinv1.FollowUp {
	w.t.Helper()
	f := got(by.Bulletins.GetFollowUp(w.ctx, &bulletinv1.GetFollowUpRequest{Name: "vehicles/" + w.serials[letter] + "/followUps/" + matrixCampaign}))(w.t)
	return got(by.Bulletins.RecordFollowUpStep(w.ctx, &bulletinv1.RecordFollowUpStepRequest{Name: f.GetName(), Etag: f.GetEtag(), Step: step, RequestId: uuid.NewString()}))(w.t)
}

// finishBulletins carries a campaign to its end: a dealer books and does the
// work, the works finds another's wrong, and the bulletin is taken back.
func (w *world) finishBulletins() {
	t, engineer, dealer := w.t, w.as("engineer"), w.as("dealer-ferncombe")
	today := dayProto(aldermoor.Today.AddDays(1)) // the world's clock moved by a day
	w.stepped("H", dealer, &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_BOOKED, StepDate: dayProto(aldermoor.Today.AddDays(9))})
	w.stepped("H", dealer, &bulletinv1.FollowUpStep{
		Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, StepDate: today, Text: "done with new bolts",
		Evidence: "vehicles/" + w.serials["H"] + "/serviceEntries/" + w.on["H"]["dealer_entry"],
		Parts:    []*bulletinv1.PartFitted{{Part: "AP-1110", Lot: "none", Quantity: 4}},
		Measured: []*bulletinv1.RemedyValue{{Characteristic: "torque", Value: &vehiclev1.Quantity{Value: "45", Unit: "N.m"}}},
	})
	w.stepped("H", engineer, &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_FOUND_WRONG, StepDate: today, Text: "two were loose"})

	got(engineer.Bulletins.RefreshSets(w.ctx, &bulletinv1.RefreshSetsRequest{}))(t)
	b := got(engineer.Bulletins.GetBulletin(w.ctx, &bulletinv1.GetBulletinRequest{Name: "bulletins/" + matrixCampaign + "/versions/-"}))(t)
	next := aCampaign(matrixCampaign, w.serials["A"])
	next.Name = "bulletins/" + matrixCampaign + "/versions/2"
	next = got(engineer.Bulletins.CreateBulletin(w.ctx, &bulletinv1.CreateBulletinRequest{Bulletin: next, RequestId: uuid.NewString()}))(t)
	next.Title = "Propshaft bolts, again"
	got(engineer.Bulletins.UpdateBulletin(w.ctx, &bulletinv1.UpdateBulletinRequest{Bulletin: next, RequestId: uuid.NewString()}))(t)
	got(engineer.Bulletins.WithdrawBulletin(w.ctx, &bulletinv1.WithdrawBulletinRequest{Name: b.GetName(), Etag: b.GetEtag(), Reason: "the bolts were right", RequestId: uuid.NewString()}))(t)
}
