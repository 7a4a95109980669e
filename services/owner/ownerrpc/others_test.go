package ownerrpc_test

import (
	"testing"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/etcdtest"
)

// What the works noted of a vehicle while somebody else had it, and who offered
// it, is not an owner's to read.
func TestAnOwnerIsToldOfNobodyBeforeOrBeside(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	h.create(t, "p2")
	am0147 := serial(t, "AM0147")
	h.tie(t, am0147, "p1", ownerv1.Role_ROLE_OWNER, day(2020, 6, 1))
	deskCtx, desk := h.desk()
	if _, err := desk.CreateTie(deskCtx, &ownerv1.CreateTieRequest{Parent: "vehicles/" + am0147, Joint: true,
		Tie: &ownerv1.Tie{Person: "people/p2", Role: ownerv1.Role_ROLE_OWNER, StartDate: day(2021, 6, 1)}}); err != nil {
		t.Fatal(err)
	}
	if _, err := desk.UpdateStanding(deskCtx, &ownerv1.UpdateStandingRequest{Standing: &ownerv1.Standing{
		Name: "vehicles/" + am0147 + "/standing", State: ownerv1.StandingState_STANDING_STATE_EXPORTED, Note: "said by the widow of who had it"}}); err != nil {
		t.Fatal(err)
	}
	for _, person := range []string{"people/p1", "people/p2"} {
		ctx, own := h.owner(person)
		n, err := own.GetStanding(ctx, &ownerv1.GetStandingRequest{Name: "vehicles/" + am0147 + "/standing"})
		if err != nil || n.GetState() != ownerv1.StandingState_STANDING_STATE_EXPORTED || n.GetNote() != "" || n.GetRecordedBy() != "" {
			t.Errorf("%s is told %v, %v", person, n, err)
		}
		if n, err = desk.GetStanding(deskCtx, &ownerv1.GetStandingRequest{Name: n.GetName()}); err != nil || n.GetNote() == "" || n.GetRecordedBy() == "" {
			t.Errorf("the desk is told %v, %v", n, err)
		}
	}
	for canceller, wantName := range map[string]string{"people/p1": "people/p1", "people/p2": ""} {
		ctx, own := h.owner("people/p1")
		offered, err := own.OfferTransfer(ctx, &ownerv1.OfferTransferRequest{Parent: "vehicles/" + am0147, OfferedBy: "people/p1"})
		if err != nil {
			t.Fatal(err)
		}
		ctx, own = h.owner(canceller)
		request := &ownerv1.CancelTransferRequest{Name: offered.GetTransfer().GetName(), RequestId: uuid(len(wantName) + 1)}
		for range 2 { // and once more
			closed, err := own.CancelTransfer(ctx, request)
			if err != nil || closed.GetOfferedBy() != wantName {
				t.Errorf("%s is told %v, %v", canceller, closed, err)
			}
		}
	}
}
