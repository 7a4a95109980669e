package warrantyrpc_test

import (
	"testing"

	"github.com/google/uuid"
	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
)

// promise enters a term.
func (w *works) promise(m *warrantyv1.WarrantyTerm) {
	w.t.Helper()
	must(w.CreateWarrantyTerm(w.t.Context(), &warrantyv1.CreateWarrantyTermRequest{WarrantyTerm: m}))(w.t)
}

// gears is a supplier's promise of two years from the fitting of a gearbox.
func gears() *warrantyv1.WarrantyTerm {
	return &warrantyv1.WarrantyTerm{
		Name: "warrantyTerms/GEARS-24/versions/1", Title: "Two years, parts", Giver: warrantyv1.WarrantyGiver_WARRANTY_GIVER_SUPPLIER, Supplier: "Ferncombe Gears",
		Positions: []string{"gearbox"}, Start: warrantyv1.WarrantyStart_WARRANTY_START_FITTING, Months: 24, CoversParts: true,
		EffectiveDate: calendar("2000-01-01"), SignedBy: "the supplier", Transferable: true,
	}
}

// repairs is the works' promise of six months on whatever was repaired.
func repairs() *warrantyv1.WarrantyTerm {
	return &warrantyv1.WarrantyTerm{
		Name: "warrantyTerms/REPAIRS-6/versions/1", Title: "Six months on repairs", Giver: warrantyv1.WarrantyGiver_WARRANTY_GIVER_WORKS,
		Positions: []string{"gearbox"}, Start: warrantyv1.WarrantyStart_WARRANTY_START_REPAIR, Months: 6, CoversParts: true, CoversLabour: true,
		EffectiveDate: calendar("2000-01-01"), SignedBy: "the works' engineer", Transferable: true,
	}
}

// record records a change of a vehicle.
func (w *works) record(serial string, c *buildv1.Change) {
	w.t.Helper()
	if c.Reason == "" {
		c.Reason = "as found"
	}
	must(w.builds.RecordChange(w.t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/" + serial, Change: c, RequestId: uuid.NewString()}))(w.t)
}

func fitted(on string) *buildv1.Change {
	return &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, ChangeDate: calendar(on), Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE,
		Component: &buildv1.Component{Position: "gearbox", Part: "AP-1100"}}
}

// At 03:30 UTC it is 4 March at the works, and 3 March where the owner lives.
func TestWhatFailedTodayIsClaimedTodayWhereverTheOwnerLives(t *testing.T) {
	w := start(t, "2025-06-03", &stub{ties: tied, zones: map[string]string{"people/p0031": "America/Los_Angeles"}})
	w.at("2026-03-04T03:30:00Z")
	m := aClaim()
	m.FailureDate = calendar("2026-03-04")
	c := must(w.CreateClaim(t.Context(), &warrantyv1.CreateClaimRequest{Parent: theVehicle, Claim: m}))(t)
	w.as(engineer)
	c = must(w.DecideClaim(t.Context(), &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: w.submitted(c).GetEtag(), Decision: partly(6_000, "one of the two")}))(t)
	if got := c.GetDecisions()[0].GetAppealUntilDate(); !proto.Equal(got, calendar("2026-05-03")) { // 60 days from 4 March
		t.Errorf("an appeal can be made until %v", got)
	}
}

// Most faults are found and put right on one day. What is claimed for is what
// failed, and neither what was put in its place nor the repair itself covers it.
func TestWhatWasPutInItsPlaceOnTheDayDoesNotCoverWhatFailed(t *testing.T) {
	w := start(t, "2020-03-03", &stub{readings: []*schedulev1.Reading{counted("2026-11-21", "3000")}})
	w.as(engineer)
	w.promise(gears())
	w.promise(repairs())
	w.record("AM0147P", fitted("2026-11-20"))
	w.as(desk)
	if c := w.submitted(w.claim()); c.GetCover().GetState() != not {
		t.Errorf("a gearbox of 2020 failed, and one of the day covers it: %s", c.GetCover().GetSentence())
	}
	if got := w.cover("gearbox", "2026-11-21"); got.GetState() != covered {
		t.Errorf("what stands there now: %s", got.GetSentence())
	}
	// And what was fitted two years before, and failed, is covered.
	w.record("AM0147P", fitted("2026-11-22"))
	again := aClaim()
	again.FailureDate = calendar("2026-11-22")
	c := must(w.CreateClaim(t.Context(), &warrantyv1.CreateClaimRequest{Parent: theVehicle, Claim: again}))(t)
	if c = w.submitted(c); c.GetCover().GetState() != covered || !proto.Equal(c.GetCover().GetTerms()[0].GetStartDate(), calendar("2026-11-20")) {
		t.Errorf("what failed was fitted on 20 November: %v", c.GetCover())
	}
}

func TestAClaimDoesNotCoverItself(t *testing.T) {
	w := start(t, "2020-03-03", &stub{readings: []*schedulev1.Reading{counted("2026-11-21", "3000")},
		entries: []*schedulev1.ServiceEntry{{Name: theVehicle + "/serviceEntries/s1", ServiceDate: calendar("2026-11-20")}}})
	w.as(engineer)
	w.promise(repairs())
	m := aClaim()
	m.ServiceEntry = theVehicle + "/serviceEntries/s1"
	c := must(w.CreateClaim(t.Context(), &warrantyv1.CreateClaimRequest{Parent: theVehicle, Claim: m}))(t)
	c = w.submitted(c)
	if c.GetCover().GetState() != not {
		t.Fatalf("six years on: %s", c.GetCover().GetSentence())
	}
	kind := &warrantyv1.ClaimDecision{Outcome: warrantyv1.ClaimOutcome_CLAIM_OUTCOME_GOODWILL, PartsMinor: 100, Reason: "to be kind"}
	c = must(w.DecideClaim(t.Context(), &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Decision: kind}))(t)
	c = must(w.AppealClaim(t.Context(), &warrantyv1.AppealClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Text: "all of it"}))(t)
	if c.GetCover().GetState() != not {
		t.Errorf("the repair that it asks for covers it: %s", c.GetCover().GetSentence())
	}
	if got := w.cover("gearbox", "2026-11-25"); got.GetState() != covered {
		t.Errorf("what fails after the repair: %s", got.GetSentence())
	}
}

// A longer promise of a supplier takes nothing from what the works gives to what
// it repaired.
func TestARepairHasItsOwnTimeUnderEachTermThatCoveredIt(t *testing.T) {
	for name, more := range map[string]bool{"the works alone": false, "a supplier beside it": true} {
		w := start(t, "2025-12-03", &stub{readings: []*schedulev1.Reading{counted("2026-11-21", "3000"), counted("2027-11-21", "4000")}})
		w.as(engineer)
		if more {
			long := gears()
			long.Months = 13
			w.promise(long)
		}
		c := w.submitted(w.claim())
		must(w.DecideClaim(t.Context(), &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Decision: partly(6_000, "one of the two")}))(t)
		// Decided on 25 November: three months of its own are until 25 February.
		if got := w.cover("gearbox", "2027-02-25"); got.GetState() != covered || !got.GetTerms()[0].GetOfRepair() || !got.GetCoversLabour() {
			t.Errorf("%s: %s", name, got.GetSentence())
		}
		if got := w.cover("gearbox", "2027-02-26"); got.GetState() != not {
			t.Errorf("%s, the day after: %s", name, got.GetSentence())
		}
	}
}

// What was paid as owed though the cover could not be told then was paid by the
// term that may have covered it; and the time of a repair that waited for an
// appeal does not begin before that was granted.
func TestWhatWasOwedHasItsOwnTimeFromWhenItWasGranted(t *testing.T) {
	w := start(t, "2025-12-03", &stub{})
	w.as(engineer)
	c := w.submitted(w.claim())
	if c.GetCover().GetState() != unknown {
		t.Fatalf("nobody knows how far it went: %s", c.GetCover().GetSentence())
	}
	no := &warrantyv1.ClaimDecision{Outcome: warrantyv1.ClaimOutcome_CLAIM_OUTCOME_DECLINED, Reason: "wear"}
	c = must(w.DecideClaim(t.Context(), &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Decision: no}))(t)
	c = must(w.AppealClaim(t.Context(), &warrantyv1.AppealClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Text: "it is cracked"}))(t)
	w.at("2026-12-20T10:00:00Z")
	w.as(another)
	must(w.DecideClaim(t.Context(), &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Decision: partly(6_000, "so it is")}))(t)
	if got := w.cover("gearbox", "2027-03-20"); got.GetState() != covered {
		t.Errorf("three months from 20 December: %s", got.GetSentence())
	}
	if got := w.cover("gearbox", "2027-03-21"); got.GetState() != not {
		t.Errorf("and not a day more: %s", got.GetSentence())
	}
}

// A vehicle that waits at the works is a shelf of parts: what came from it has
// gone to nobody before.
func TestAUnitFromAVehicleAtTheWorksBeginsWhereItFirstCameToAnOwner(t *testing.T) {
	for name, delivered := range map[string]string{"never delivered": "", "delivered on the day": "2026-06-01"} {
		w := start(t, "2020-03-03", &stub{readings: []*schedulev1.Reading{counted("2026-06-01", "2000"), counted("2026-11-21", "3000")},
			covered: []*schedulev1.ComponentDistance{{Position: "gearbox", PriorDistance: trueMiles("0")}}})
		w.as(engineer)
		w.promise(gears())
		shelf := built("AM01058", "2023-01-10")
		shelf.DeliveryDate, shelf.DeliveryReading = nil, nil
		must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: shelf}))(t)
		must(w.builds.MoveComponent(t.Context(), &buildv1.MoveComponentRequest{Source: "builds/AM01058", SourcePosition: "gearbox", Destination: "builds/AM0147P",
			MoveDate: calendar("2026-06-01"), Reason: "needed at once"}))(t)
		if delivered != "" {
			shelf = must(w.builds.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/AM01058"}))(t)
			shelf.DeliveryDate, shelf.DeliveryReading = calendar(delivered), miles("0")
			must(w.builds.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: shelf, Reason: "it went out at last"}))(t)
		}
		got := w.cover("gearbox", "2026-11-20")
		if got.GetState() != covered || !proto.Equal(got.GetTerms()[0].GetStartDate(), calendar("2026-06-01")) {
			t.Errorf("%s: %s, from %v", name, got.GetSentence(), got.GetTerms()[0].GetStartDate())
		}
	}
}

// A promise to the first owner only does not come along to another's vehicle.
func TestAMovedUnitBringsItsOwnersAlong(t *testing.T) {
	tie := func(serial, person, from, to string) *ownerv1.Tie {
		m := &ownerv1.Tie{Name: "vehicles/" + serial + "/ties/" + person, Person: "people/" + person, Role: ownerv1.Role_ROLE_OWNER, StartDate: calendar(from)}
		if to != "" {
			m.EndDate = calendar(to)
		}
		return m
	}
	for name, c := range map[string]struct {
		ties []*ownerv1.Tie
		want warrantyv1.CoverState
	}{
		"both of one owner":              {[]*ownerv1.Tie{tie("AM01058", "p1", "2025-06-10", ""), tie("AM0147P", "p1", "2020-03-03", "")}, covered},
		"of two owners":                  {[]*ownerv1.Tie{tie("AM01058", "p1", "2025-06-10", ""), tie("AM0147P", "p2", "2020-03-03", "")}, not},
		"sold before it came":            {[]*ownerv1.Tie{tie("AM01058", "p1", "2025-06-10", ""), tie("AM0147P", "p2", "2020-03-03", "2025-11-01"), tie("AM0147P", "p1", "2025-11-01", "")}, covered},
		"sold where it stood, afterward": {[]*ownerv1.Tie{tie("AM01058", "p1", "2025-06-10", "2026-09-01"), tie("AM01058", "p3", "2026-09-01", ""), tie("AM0147P", "p1", "2020-03-03", "")}, covered},
		"sold where it stands":           {[]*ownerv1.Tie{tie("AM01058", "p1", "2025-06-10", ""), tie("AM0147P", "p1", "2020-03-03", "2026-09-01"), tie("AM0147P", "p3", "2026-09-01", "")}, not},
		"nobody knows whose":             {nil, unknown},
	} {
		w := start(t, "2020-03-03", &stub{ties: c.ties, readings: []*schedulev1.Reading{counted("2026-06-01", "2000"), counted("2026-11-21", "3000")},
			covered: []*schedulev1.ComponentDistance{{Position: "gearbox", PriorDistance: trueMiles("500")}}})
		w.as(engineer)
		own := gears()
		own.Transferable = false
		w.promise(own)
		must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: built("AM01058", "2025-06-10")}))(t)
		must(w.builds.MoveComponent(t.Context(), &buildv1.MoveComponentRequest{Source: "builds/AM01058", SourcePosition: "gearbox", Destination: "builds/AM0147P",
			MoveDate: calendar("2026-06-01"), Reason: "to try it"}))(t)
		if got := w.cover("gearbox", "2026-11-20"); got.GetState() != c.want {
			t.Errorf("%s: %s", name, got.GetSentence())
		}
	}
}

// An option that was added years after delivery was fitted then.
func TestAnOptionAddedLaterIsFittedOnThatDay(t *testing.T) {
	w := start(t, "2020-03-03", &stub{readings: []*schedulev1.Reading{counted("2026-11-21", "3000")}})
	w.as(engineer)
	winch := gears()
	winch.Name, winch.Positions = "warrantyTerms/WINCH-24/versions/1", []string{"winch"}
	w.promise(winch)
	second := release()
	second.Name, second.Options = "releases/R2", []*buildv1.Option{{OptionId: "winch", Title: "Winch", Fitments: []*buildv1.Fitment{{Position: "winch", Part: "AP-7000"}}}}
	must(w.builds.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: second}))(t)
	b := built("AM01058", "2020-03-03")
	b.Release = "releases/R2"
	must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: b}))(t)
	w.record("AM01058", &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_OPTION_ADDED, ChangeDate: calendar("2026-06-01"), Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, Option: "winch"})
	got := must(w.GetCover(t.Context(), &warrantyv1.GetCoverRequest{Name: "vehicles/AM01058/covers/winch", OnDate: calendar("2026-11-20")}))(t)
	if got.GetState() != covered || !proto.Equal(got.GetTerms()[0].GetStartDate(), calendar("2026-06-01")) {
		t.Errorf("%s, from %v", got.GetSentence(), got.GetTerms())
	}
}

func TestATermIsAskedBackOfWhoGaveIt(t *testing.T) {
	w := start(t, "2026-03-03", &stub{readings: []*schedulev1.Reading{counted("2026-11-21", "3000")}})
	w.as(engineer)
	w.promise(gears())
	c := w.submitted(w.claim())
	c = must(w.DecideClaim(t.Context(), &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Decision: partly(6_000, "one of the two")}))(t)
	back := &warrantyv1.ClaimRecovery{State: warrantyv1.RecoveryState_RECOVERY_STATE_ASKED, Supplier: "Somebody Else", AskedMinor: 6_000, Term: gears().GetName()}
	_, err := w.RecordRecovery(t.Context(), &warrantyv1.RecordRecoveryRequest{Name: c.GetName(), Etag: c.GetEtag(), Recovery: back})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
	back.Supplier = "Ferncombe Gears"
	must(w.RecordRecovery(t.Context(), &warrantyv1.RecordRecoveryRequest{Name: c.GetName(), Etag: c.GetEtag(), Recovery: back}))(t)
}

// Between handing in and deciding the record may be put right.
func TestADecisionRestsOnWhatIsOnRecordWhenItIsMade(t *testing.T) {
	w := start(t, "2025-03-03", &stub{readings: []*schedulev1.Reading{counted("2026-11-21", "3000")}})
	w.as(engineer)
	c := w.submitted(w.claim())
	if c.GetCover().GetState() != not {
		t.Fatalf("more than a year on: %s", c.GetCover().GetSentence())
	}
	all := &warrantyv1.ClaimDecision{Outcome: warrantyv1.ClaimOutcome_CLAIM_OUTCOME_ACCEPTED, Reason: "covered",
		PartsMinor: c.GetTotals().GetPartsMinor(), LabourMinor: c.GetTotals().GetLabourMinor(), OtherMinor: c.GetTotals().GetOtherMinor()}
	decide := &warrantyv1.DecideClaimRequest{Name: c.GetName(), Etag: c.GetEtag(), Decision: all}
	_, err := w.DecideClaim(t.Context(), decide)
	refused(t, err, fault.Invalid, "INVALID_FIELD")
	b := must(w.builds.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/AM0147P"}))(t)
	b.DeliveryDate = calendar("2025-12-03")
	must(w.builds.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: b, Reason: "it was collected in December"}))(t)
	c = must(w.DecideClaim(t.Context(), decide))(t)
	if c.GetCover().GetState() != covered || c.GetDecisions()[0].GetOutcome() != all.GetOutcome() {
		t.Errorf("the cover that it rests on is kept: %s", c.GetCover().GetSentence())
	}
	b = must(w.builds.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/AM0147P"}))(t)
	b.DeliveryDate = calendar("2025-03-03")
	must(w.builds.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: b, Reason: "no, in March"}))(t)
	c = must(w.GetClaim(t.Context(), &warrantyv1.GetClaimRequest{Name: c.GetName()}))(t)
	if c.GetCover().GetState() != covered || len(c.GetDecisions()) != 1 {
		t.Errorf("a decision does not change when the record does: %v", c)
	}
}
