package warrantyrpc_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

// recorded is all that a works has of warranties, without etags, which are of one
// store.
func (w *works) recorded() []*warrantyv1.WarrantyRow {
	w.t.Helper()
	ctx := w.t.Context()
	var rows []*warrantyv1.WarrantyRow
	for _, m := range must(w.ListWarrantyTerms(ctx, &warrantyv1.ListWarrantyTermsRequest{}))(w.t).GetWarrantyTerms() {
		m.Etag = ""
		rows = append(rows, &warrantyv1.WarrantyRow{Row: &warrantyv1.WarrantyRow_WarrantyTerm{WarrantyTerm: m}})
	}
	for _, m := range must(w.ListClaims(ctx, &warrantyv1.ListClaimsRequest{Parent: "vehicles/-"}))(w.t).GetClaims() {
		m.Etag = ""
		rows = append(rows, &warrantyv1.WarrantyRow{Row: &warrantyv1.WarrantyRow_Claim{Claim: m}})
	}
	for _, m := range must(w.ListOutOfServiceSpans(ctx, &warrantyv1.ListOutOfServiceSpansRequest{Parent: theVehicle}))(w.t).GetOutOfServiceSpans() {
		m.Etag = ""
		rows = append(rows, &warrantyv1.WarrantyRow{Row: &warrantyv1.WarrantyRow_OutOfServiceSpan{OutOfServiceSpan: m}})
	}
	return rows
}

// imported stages and commits rows.
func (w *works) imported(id string, rows ...*warrantyv1.WarrantyRow) (*warrantyv1.CommitImportResponse, error) {
	w.t.Helper()
	w.as(engineer)
	if _, err := w.StageImport(w.t.Context(), &warrantyv1.StageImportRequest{ImportId: id, Rows: rows}); err != nil {
		return nil, err
	}
	return w.CommitImport(w.t.Context(), &warrantyv1.CommitImportRequest{ImportId: id, Chunks: 1})
}

// storied is a works with two versions of a term, a claim that went through
// everything, a draft, one taken back, and two times out of service.
func storied(t *testing.T) *works {
	t.Helper()
	w := start(t, "2026-05-01", &stub{})
	ctx := t.Context()
	w.as(engineer)
	next := theTerm()
	next.Name, next.EffectiveDate, next.Months = "warrantyTerms/WORKS-12/versions/2", calendar("2027-01-01"), 24
	must(w.CreateWarrantyTerm(ctx, &warrantyv1.CreateWarrantyTermRequest{WarrantyTerm: next}))(t)
	w.as(desk)
	claim := func() *warrantyv1.Claim {
		return must(w.CreateClaim(ctx, &warrantyv1.CreateClaimRequest{Parent: theVehicle, Claim: &warrantyv1.Claim{
			Position: "gearbox", FailureDate: calendar("2026-11-20"), Reading: miles("3456.7"), Symptom: "jumps out of third; \"clonk\"\non overrun", Cause: "=worn", Remedy: "selector replaced",
			Parts:      []*warrantyv1.ClaimPart{{Part: "AP-1100", Quantity: 1, UnitPriceMinor: 5_000_000_000, FailedLot: "L1", FittedLot: "L2"}},
			Labour:     []*warrantyv1.ClaimLabour{{Text: "out and in", Minutes: 301, HourlyRateMinor: 6_001}},
			OtherCosts: []*warrantyv1.ClaimCost{{Text: "carriage", AmountMinor: 4_200}}, Currency: "GBP", Organisation: "organisations/ferry",
		}}))(t)
	}
	c := claim()
	c = must(w.SubmitClaim(ctx, &warrantyv1.SubmitClaimRequest{Name: c.GetName(), Etag: c.GetEtag()}))(t)
	c = must(w.AskClaimant(ctx, &warrantyv1.AskClaimantRequest{Name: c.GetName(), Etag: c.GetEtag(), Text: "A photograph?"}))(t)
	w.at("2026-11-26T10:00:00Z")
	c = must(w.SubmitClaim(ctx, &warrantyv1.SubmitClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Text: "It is with the gearbox."}))(t)
	w.as(engineer)
	c = must(w.AuthoriseClaim(ctx, &warrantyv1.AuthoriseClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), LimitMinor: 5_000, Text: "to open it"}))(t)
	c = must(w.DecideClaim(ctx, &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Decision: &warrantyv1.ClaimDecision{
		Outcome: warrantyv1.ClaimOutcome_CLAIM_OUTCOME_GOODWILL, PartsMinor: 6_000, Reason: "half of the part"}}))(t)
	w.as(desk)
	c = must(w.AppealClaim(ctx, &warrantyv1.AppealClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Text: "it failed before"}))(t)
	w.as(another)
	c = must(w.DecideClaim(ctx, &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Decision: &warrantyv1.ClaimDecision{
		Outcome: warrantyv1.ClaimOutcome_CLAIM_OUTCOME_GOODWILL, PartsMinor: 12_000, Reason: "all of the part"}}))(t)
	c = must(w.RecordRecovery(ctx, &warrantyv1.RecordRecoveryRequest{Name: c.GetName(), Etag: c.GetEtag(), Recovery: &warrantyv1.ClaimRecovery{
		State: warrantyv1.RecoveryState_RECOVERY_STATE_ASKED, Supplier: "Ferncombe Gears", AskedMinor: 12_000}}))(t)
	must(w.CloseClaim(ctx, &warrantyv1.CloseClaimRequest{Name: c.GetName(), Etag: c.GetEtag()}))(t)
	claim()
	back := claim()
	must(w.WithdrawClaim(ctx, &warrantyv1.WithdrawClaimRequest{Name: back.GetName(), Etag: back.GetEtag(), Text: "a slip"}))(t)
	for _, s := range []*warrantyv1.OutOfServiceSpan{
		{StartDate: calendar("2026-11-20"), EndDate: calendar("2026-11-22"), Reason: "waiting for a gearbox", Claim: c.GetName(), Counts: true},
		{StartDate: calendar("2026-11-24"), Reason: "waiting for a seal"},
	} {
		must(w.CreateOutOfServiceSpan(ctx, &warrantyv1.CreateOutOfServiceSpanRequest{Parent: theVehicle, OutOfServiceSpan: s}))(t)
	}
	return w
}

func TestTermsClaimsAndTimesOutOfServiceComeBackAsTheyWereWithWhoDidWhatAndWhen(t *testing.T) {
	from := storied(t)
	want := from.recorded()
	if len(want) != 7 {
		t.Fatalf("%d records", len(want))
	}
	to := open(t, kv.NewStore(etcdtest.Client(t)), &stub{})
	to.at("2026-11-27T10:00:00Z")
	rows := from.recorded()
	slices.Reverse(rows) // in whatever order they come
	if got, err := to.imported("one", rows...); err != nil || got.GetWritten() != 7 || got.GetUnchanged() != 0 {
		t.Fatalf("got %v, %v", got, err)
	}
	must(to.builds.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: release()}))(t)
	must(to.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: built("AM0147P", "2026-05-01")}))(t)
	if diff := cmp.Diff(want, to.recorded(), protocmp.Transform()); diff != "" {
		t.Errorf("(-there +here)\n%s", diff)
	}
	etags := func() (out []string) {
		for _, c := range must(to.ListClaims(t.Context(), &warrantyv1.ListClaimsRequest{Parent: theVehicle}))(t).GetClaims() {
			out = append(out, c.GetEtag())
		}
		return out
	}
	before := etags()
	if got, err := to.imported("two", from.recorded()...); err != nil || got.GetWritten() != 0 || got.GetUnchanged() != 7 {
		t.Errorf("the second time: %v, %v", got, err)
	}
	if diff := cmp.Diff(before, etags()); diff != "" {
		t.Errorf("an import that writes nothing changes etags: %s", diff)
	}
	// What stands is changed by whoever read it, and then never imported over.
	to.as(desk)
	for _, c := range must(to.ListClaims(t.Context(), &warrantyv1.ListClaimsRequest{Parent: theVehicle}))(t).GetClaims() {
		if c.GetState() == warrantyv1.ClaimState_CLAIM_STATE_DRAFT {
			must(to.WithdrawClaim(t.Context(), &warrantyv1.WithdrawClaimRequest{Name: c.GetName(), Etag: c.GetEtag()}))(t)
		}
	}
	_, err := to.imported("three", from.recorded()...)
	if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); len(f.Fields) != 1 || !strings.Contains(f.Fields[0].Want, "never imported over") {
		t.Errorf("got %v", f.Fields)
	}
}

func TestAnImportOfWarrantiesIsRefusedWholeWithEveryFaultAtItsField(t *testing.T) {
	from := storied(t)
	to := open(t, kv.NewStore(etcdtest.Client(t)), &stub{})
	to.at("2026-11-27T10:00:00Z")
	rows := from.recorded()
	closed := rows[slices.IndexFunc(rows, func(r *warrantyv1.WarrantyRow) bool {
		return r.GetClaim().GetState() == warrantyv1.ClaimState_CLAIM_STATE_CLOSED
	})].GetClaim()
	for _, c := range []struct {
		name  string
		spoil func(*warrantyv1.Claim)
		field string
	}{
		{"who decided the appeal is who decided before", func(c *warrantyv1.Claim) { c.Decisions[1].DecidedBy = c.Decisions[0].DecidedBy }, "rows[0].claim.decisions[1].decided_by"},
		{"nobody decided", func(c *warrantyv1.Claim) { c.Decisions[0].DecidedBy = "" }, "rows[0].claim.decisions[0].decided_by"},
		{"a decision without its time", func(c *warrantyv1.Claim) { c.Decisions[0].DecideTime = nil }, "rows[0].claim.decisions[0].decide_time"},
		{"a step that nobody made", func(c *warrantyv1.Claim) { c.Steps[2].RecordedBy = "" }, "rows[0].claim.steps[2].recorded_by"},
		{"a step in the future", func(c *warrantyv1.Claim) {
			c.Steps[len(c.Steps)-1].CreateTime.Seconds += 9 * 86400
		}, "rows[0].claim.steps[8].create_time"},
		{"steps out of order", func(c *warrantyv1.Claim) {
			c.Steps[1].CreateTime.Seconds -= 2 * 86400
		}, "rows[0].claim.steps[1].create_time"},
		{"a state that the steps did not lead to", func(c *warrantyv1.Claim) { c.State = warrantyv1.ClaimState_CLAIM_STATE_ASKED }, "rows[0].claim.steps"},
		{"a draft that was decided", func(c *warrantyv1.Claim) { c.State = warrantyv1.ClaimState_CLAIM_STATE_DRAFT }, "rows[0].claim.decisions"},
		{"accepted without a decision", func(c *warrantyv1.Claim) { c.State, c.Decisions = warrantyv1.ClaimState_CLAIM_STATE_ACCEPTED, nil }, "rows[0].claim.decisions"},
		{"more received than asked", func(c *warrantyv1.Claim) { c.Recovery.ReceivedMinor = c.Recovery.AskedMinor + 1 }, "rows[0].claim.recovery.received_minor"},
		{"a cover of another vehicle", func(c *warrantyv1.Claim) { c.Cover.Name = "vehicles/AM0101G/covers/gearbox" }, "rows[0].claim.cover.name"},
		{"a service entry of another vehicle", func(c *warrantyv1.Claim) { c.ServiceEntry = "vehicles/AM0101G/serviceEntries/e1" }, "rows[0].claim.service_entry"},
		{"no position", func(c *warrantyv1.Claim) { c.Position = "" }, "rows[0].claim.position"},
		{"a name of nothing", func(c *warrantyv1.Claim) { c.Name = "claims/1" }, "rows[0].claim.name"},
	} {
		t.Run(c.name, func(t *testing.T) {
			bad := proto.CloneOf(closed)
			c.spoil(bad)
			_, err := to.imported("spoilt", &warrantyv1.WarrantyRow{Row: &warrantyv1.WarrantyRow_Claim{Claim: bad}})
			f := refused(t, err, fault.Invalid, "INVALID_FIELD")
			if !slices.ContainsFunc(f.Fields, func(f fault.Field) bool { return f.Name == c.field }) {
				t.Errorf("got %v, want %s", f.Fields, c.field)
			}
		})
	}
	// Rows that are right by themselves: a version without the one before it, a claim
	// and a time that rest on what is not there. All are told of at once.
	var few []*warrantyv1.WarrantyRow
	for _, r := range rows {
		if r.GetWarrantyTerm().GetName() == "warrantyTerms/WORKS-12/versions/2" || r.GetClaim() == closed || r.GetOutOfServiceSpan().GetClaim() == closed.GetName() {
			if span := r.GetOutOfServiceSpan(); span != nil {
				span.Claim = theVehicle + "/claims/gone"
			}
			few = append(few, r)
		}
	}
	_, err := to.imported("few", few...)
	f := refused(t, err, fault.Invalid, "INVALID_FIELD")
	for _, want := range []string{"warranty_term.name", "claim.cover.terms[0].term", "out_of_service_span.claim"} {
		if !slices.ContainsFunc(f.Fields, func(f fault.Field) bool { return strings.HasSuffix(f.Name, want) }) {
			t.Errorf("%s is not told of: %v", want, f.Fields)
		}
	}
	if terms := must(to.ListWarrantyTerms(t.Context(), &warrantyv1.ListWarrantyTermsRequest{}))(t).GetWarrantyTerms(); len(terms) != 0 {
		t.Errorf("%d terms were kept", len(terms))
	}
}
