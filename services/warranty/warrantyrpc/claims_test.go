package warrantyrpc_test

import (
	"sync"
	"testing"

	"github.com/google/uuid"
	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
)

func aClaim() *warrantyv1.Claim {
	return &warrantyv1.Claim{
		Position: "gearbox", FailureDate: calendar("2026-11-20"), Reading: miles("3000"), Symptom: "jumps out of third", Cause: "worn selector", Remedy: "selector replaced",
		Parts:      []*warrantyv1.ClaimPart{{Part: "AP-1110", Quantity: 2, FailedLot: "L5", FittedLot: "L7", UnitPriceMinor: 6_000}},
		Labour:     []*warrantyv1.ClaimLabour{{Text: "gearbox out and in", Minutes: 100, HourlyRateMinor: 6_001}}, // 10,001.67
		OtherCosts: []*warrantyv1.ClaimCost{{Text: "carriage", AmountMinor: 1_500}},
		Currency:   "GBP",
	}
}

// claim begins a claim as the caller of the moment.
func (w *works) claim() *warrantyv1.Claim {
	w.t.Helper()
	return must(w.CreateClaim(w.t.Context(), &warrantyv1.CreateClaimRequest{Parent: theVehicle, Claim: aClaim(), RequestId: uuid.NewString()}))(w.t)
}

// submitted hands a claim in.
func (w *works) submitted(c *warrantyv1.Claim) *warrantyv1.Claim {
	w.t.Helper()
	return must(w.SubmitClaim(w.t.Context(), &warrantyv1.SubmitClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), RequestId: uuid.NewString()}))(w.t)
}

func partly(parts int64, why string) *warrantyv1.ClaimDecision {
	return &warrantyv1.ClaimDecision{Outcome: warrantyv1.ClaimOutcome_CLAIM_OUTCOME_PARTLY, PartsMinor: parts, Reason: why}
}

func TestAClaimFromTheDraftToWhatTheSupplierGaveBack(t *testing.T) {
	w := start(t, "2026-03-03", &stub{readings: []*schedulev1.Reading{counted("2026-11-21", "3000")},
		entries: []*schedulev1.ServiceEntry{{Name: theVehicle + "/serviceEntries/s1", ServiceDate: calendar("2026-11-24")}}})
	ctx := t.Context()
	c := w.claim()
	if c.GetState() != warrantyv1.ClaimState_CLAIM_STATE_DRAFT || c.GetRecordedBy() != "front desk" || c.GetTotals().GetClaimedMinor() != 12_000+10_002+1_500 {
		t.Fatalf("the draft: %v", c)
	}
	c.ServiceEntry = theVehicle + "/serviceEntries/s1"
	c = must(w.UpdateClaim(ctx, &warrantyv1.UpdateClaimRequest{Claim: c}))(t)
	c = w.submitted(c)
	if c.GetCover().GetState() != covered || c.GetCover().GetTerms()[0].GetTerm() != "warrantyTerms/WORKS-12/versions/1" {
		t.Fatalf("the cover of the day of the failure is kept: %v", c.GetCover())
	}
	c = must(w.AskClaimant(ctx, &warrantyv1.AskClaimantRequest{Name: c.GetName(), Etag: c.GetEtag(), Text: "A photograph?"}))(t)
	c = w.submitted(c)
	w.as(engineer)
	c = must(w.AuthoriseClaim(ctx, &warrantyv1.AuthoriseClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), LimitMinor: 5_000, Text: "to open it"}))(t)
	c = must(w.DecideClaim(ctx, &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Decision: partly(6_000, "one of the two was not at fault")}))(t)
	if c.GetDecisions()[0].GetDecidedBy() != "accounts/ada" || c.GetDecisions()[0].GetAppealUntilDate().GetMonth() != 1 { // 60 days from 25 November: 24 January
		t.Errorf("the decision: %v", c.GetDecisions())
	}
	w.as(desk)
	c = must(w.AppealClaim(ctx, &warrantyv1.AppealClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Text: "both came out in pieces"}))(t)
	if c.GetAnswerByDate().GetMonth() != 1 || c.GetAnswerByDate().GetDay() != 4 { // 40 days: 16 CFR 703.5(d), as an example and from memory
		t.Errorf("the appeal is to be answered by %v", c.GetAnswerByDate())
	}
	again := &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Decision: partly(12_000, "both")}
	w.as(access.Caller{Role: access.Engineer, Bearer: "her other key", Account: "accounts/ada"})
	_, err := w.DecideClaim(ctx, again)
	refused(t, err, fault.FailedPrecondition, "SAME_PERSON")
	w.as(another)
	c = must(w.DecideClaim(ctx, again))(t)
	w.as(desk)
	back := &warrantyv1.ClaimRecovery{State: warrantyv1.RecoveryState_RECOVERY_STATE_ASKED, Supplier: "Ferncombe Gears", AskedMinor: 12_000, Term: "warrantyTerms/WORKS-12/versions/1"}
	_, err = w.RecordRecovery(ctx, &warrantyv1.RecordRecoveryRequest{Name: c.GetName(), Etag: c.GetEtag(), Recovery: back})
	refused(t, err, fault.Invalid, "INVALID_FIELD") // the works' own term binds no supplier
	back.Term = ""
	c = must(w.RecordRecovery(ctx, &warrantyv1.RecordRecoveryRequest{Name: c.GetName(), Etag: c.GetEtag(), Recovery: back}))(t)
	back = c.GetRecovery()
	back.State, back.ReceivedMinor = warrantyv1.RecoveryState_RECOVERY_STATE_RECEIVED, 9_000
	c = must(w.RecordRecovery(ctx, &warrantyv1.RecordRecoveryRequest{Name: c.GetName(), Etag: c.GetEtag(), Recovery: back}))(t)
	c = must(w.CloseClaim(ctx, &warrantyv1.CloseClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Text: "credited"}))(t)
	if sum := c.GetTotals(); sum.GetPaidMinor() != 12_000 || sum.GetRecoveredMinor() != 9_000 || sum.GetNetMinor() != 3_000 || len(c.GetSteps()) < 7 {
		t.Errorf("in the end: %v", c)
	}
	got := w.cover("gearbox", "2027-06-01") // what was repaired has three months of its own, from the service entry
	if len(got.GetTerms()) != 2 || got.GetState() != not {
		t.Errorf("after the repair: %v", got)
	}
	if got := w.cover("transfer-case", "2027-06-01"); len(got.GetTerms()) != 1 {
		t.Errorf("what was not repaired: %v", got)
	}
	for by, key := range map[warrantyv1.SumBy]string{
		warrantyv1.SumBy_SUM_BY_VEHICLE: theVehicle, warrantyv1.SumBy_SUM_BY_LOT: "L5", warrantyv1.SumBy_SUM_BY_SUPPLIER: "Ferncombe Gears", warrantyv1.SumBy_SUM_BY_QUARTER: "2026-Q4"} {
		sums := must(w.ListClaimSums(ctx, &warrantyv1.ListClaimSumsRequest{SumBy: by}))(t).GetClaimSums()
		if len(sums) != 1 || sums[0].GetKey() != key || sums[0].GetTotals().GetNetMinor() != 3_000 || sums[0].GetAccepted() != 1 {
			t.Errorf("%v: %v", by, sums)
		}
	}
	_, err = w.ListClaimSums(ctx, &warrantyv1.ListClaimSumsRequest{})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
}

func TestAnotherDealersClaimIsNotThere(t *testing.T) {
	w := start(t, "2026-03-03", &stub{readings: []*schedulev1.Reading{counted("2026-11-21", "3000")}})
	ctx := t.Context()
	w.as(ferry)
	theirs := w.claim()
	if theirs.GetOrganisation() != ferry.Organisation {
		t.Fatalf("it is theirs: %v", theirs)
	}
	spoken := aClaim()
	spoken.Organisation = quay.Organisation
	if c := must(w.CreateClaim(ctx, &warrantyv1.CreateClaimRequest{Parent: theVehicle, Claim: spoken}))(t); c.GetOrganisation() != ferry.Organisation {
		t.Errorf("somebody claimed for another: %v", c)
	}
	w.as(desk)
	ours := w.claim()
	for _, name := range []string{theirs.GetName(), ours.GetName(), theVehicle + "/claims/none"} {
		w.as(quay)
		var said []string
		for _, call := range []func() error{
			func() error { _, err := w.GetClaim(ctx, &warrantyv1.GetClaimRequest{Name: name}); return err },
			func() error {
				_, err := w.SubmitClaim(ctx, &warrantyv1.SubmitClaimRequest{Name: name, Etag: theirs.GetEtag()})
				return err
			},
			func() error {
				c := proto.CloneOf(theirs)
				c.Name = name
				_, err := w.UpdateClaim(ctx, &warrantyv1.UpdateClaimRequest{Claim: c})
				return err
			},
			func() error {
				_, err := w.WithdrawClaim(ctx, &warrantyv1.WithdrawClaimRequest{Name: name, Etag: theirs.GetEtag()})
				return err
			},
			func() error {
				_, err := w.AppealClaim(ctx, &warrantyv1.AppealClaimRequest{Name: name, Etag: theirs.GetEtag(), Text: "x"})
				return err
			},
		} {
			said = append(said, refused(t, call(), fault.NotFound, "CLAIM_NOT_FOUND").Message)
		}
		for _, text := range said {
			if text != "There is no such claim on AM0147P." {
				t.Errorf("%s: %q", name, text)
			}
		}
	}
	if all := must(w.ListClaims(ctx, &warrantyv1.ListClaimsRequest{Parent: theVehicle}))(t).GetClaims(); len(all) != 0 {
		t.Errorf("another's are listed: %v", all)
	}
	w.as(ferry)
	if all := must(w.ListClaims(ctx, &warrantyv1.ListClaimsRequest{Parent: theVehicle}))(t).GetClaims(); len(all) != 2 {
		t.Errorf("their own: %v", all)
	}
	w.as(desk)
	if all := must(w.ListClaims(ctx, &warrantyv1.ListClaimsRequest{Parent: "vehicles/-", States: []warrantyv1.ClaimState{warrantyv1.ClaimState_CLAIM_STATE_DRAFT}}))(t).GetClaims(); len(all) != 3 {
		t.Errorf("staff see all: %v", all)
	}
	first := must(w.ListClaims(ctx, &warrantyv1.ListClaimsRequest{Parent: "vehicles/-", PageSize: 2}))(t)
	rest := must(w.ListClaims(ctx, &warrantyv1.ListClaimsRequest{Parent: "vehicles/-", PageSize: 2, PageToken: first.GetNextPageToken()}))(t)
	if len(first.GetClaims()) != 2 || len(rest.GetClaims()) != 1 || rest.GetNextPageToken() != "" {
		t.Errorf("pages of %d and %d", len(first.GetClaims()), len(rest.GetClaims()))
	}
}

// A repeated request gives the first answer, also after the process was killed:
// nothing but the store is taken over.
func TestARepeatedRequestDoesNothingTwiceAlsoAfterARestart(t *testing.T) {
	said := &stub{readings: []*schedulev1.Reading{counted("2026-11-21", "3000")}}
	w := start(t, "2026-03-03", said)
	ctx := t.Context()
	create := &warrantyv1.CreateClaimRequest{Parent: theVehicle, Claim: aClaim(), RequestId: uuid.NewString()}
	c := must(w.CreateClaim(ctx, create))(t)
	submit := &warrantyv1.SubmitClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), RequestId: uuid.NewString()}
	handed := must(w.SubmitClaim(ctx, submit))(t)
	w.as(engineer)
	decide := &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: handed.GetEtag(), Decision: partly(6_000, "one of the two"), RequestId: uuid.NewString()}
	decided := must(w.DecideClaim(ctx, decide))(t)
	w.close()

	again := open(t, w.store, said)
	if got := must(again.CreateClaim(ctx, create))(t); !proto.Equal(got, c) {
		t.Errorf("created again: %v, want %v", got, c)
	}
	if got := must(again.SubmitClaim(ctx, submit))(t); !proto.Equal(got, handed) {
		t.Errorf("handed in again: %v, want %v", got, handed)
	}
	again.as(engineer)
	if got := must(again.DecideClaim(ctx, decide))(t); !proto.Equal(got, decided) {
		t.Errorf("decided again: %v, want %v", got, decided)
	}
	other := proto.CloneOf(decide)
	other.Decision.Reason = "another reason"
	_, err := again.DecideClaim(ctx, other)
	refused(t, err, fault.Invalid, "REQUEST_ID_REUSED")
	all := must(again.ListClaims(ctx, &warrantyv1.ListClaimsRequest{Parent: theVehicle}))(t).GetClaims()
	if len(all) != 1 || len(all[0].GetDecisions()) != 1 || !proto.Equal(all[0], decided) {
		t.Errorf("there is: %v", all)
	}
}

func TestOfTwoWhoDecideAtOnceOneIsTold(t *testing.T) {
	w := start(t, "2026-03-03", &stub{readings: []*schedulev1.Reading{counted("2026-11-21", "3000")}})
	ctx := t.Context()
	for range 10 {
		w.as(desk)
		c := w.submitted(w.claim())
		w.as(engineer)
		var wait sync.WaitGroup
		errs := make([]error, 4)
		for i := range errs {
			wait.Go(func() {
				_, errs[i] = w.DecideClaim(ctx, &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), RequestId: uuid.NewString(), Decision: partly(6_000, "one of the two")})
			})
		}
		wait.Wait()
		won := 0
		for _, err := range errs {
			if err == nil {
				won++
			} else if f := rpcerr.FromStatus(err); f.Kind != fault.Aborted {
				t.Errorf("got %v", err)
			}
		}
		got := must(w.GetClaim(ctx, &warrantyv1.GetClaimRequest{Name: c.GetName()}))(t)
		if won != 1 || len(got.GetDecisions()) != 1 {
			t.Fatalf("%d decided, and %d decisions stand", won, len(got.GetDecisions()))
		}
	}
}

func TestWhatIsWrongWithAClaimIsSaidAtOnce(t *testing.T) {
	w := start(t, "2026-03-03", &stub{})
	bad := aClaim()
	bad.Position, bad.Currency, bad.ServiceEntry, bad.Parts[0].Quantity = "Gear Box", "pounds", "vehicles/AM01058/serviceEntries/x", 0
	_, err := w.CreateClaim(t.Context(), &warrantyv1.CreateClaimRequest{Parent: theVehicle, Claim: bad})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
	bad.ServiceEntry = ""
	_, err = w.CreateClaim(t.Context(), &warrantyv1.CreateClaimRequest{Parent: theVehicle, Claim: bad})
	if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); len(f.Fields) != 3 {
		t.Errorf("got %v", f.Fields)
	}
	c := w.claim()
	_, err = w.SubmitClaim(t.Context(), &warrantyv1.SubmitClaimRequest{Name: c.GetName(), Etag: "1"})
	refused(t, err, fault.Aborted, "ETAG_MISMATCH")
	_, err = w.CreateClaim(t.Context(), &warrantyv1.CreateClaimRequest{Parent: theVehicle, Claim: aClaim(), RequestId: "no uuid"})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
	_, err = w.CreateOutOfServiceSpan(t.Context(), &warrantyv1.CreateOutOfServiceSpanRequest{Parent: theVehicle, OutOfServiceSpan: &warrantyv1.OutOfServiceSpan{
		StartDate: calendar("2026-12-24"), Claim: theVehicle + "/claims/none"}})
	if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); len(f.Fields) != 3 {
		t.Errorf("a day to come, no reason and no such claim: got %v", f.Fields)
	}
}
