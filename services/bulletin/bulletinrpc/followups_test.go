package bulletinrpc_test

import (
	"strings"
	"testing"

	"github.com/google/uuid"
	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
)

func (w *works) followUp(t testing.TB, serial string) *bulletinv1.FollowUp {
	t.Helper()
	return must(w.GetFollowUp(t.Context(), &bulletinv1.GetFollowUpRequest{Name: "vehicles/" + serial + "/followUps/C-1"}))(t)
}

// record records a step on the follow-up as it stands.
func (w *works) record(t testing.TB, serial string, step *bulletinv1.FollowUpStep) (*bulletinv1.FollowUp, error) {
	t.Helper()
	f := w.followUp(t, serial)
	return w.RecordFollowUpStep(t.Context(), &bulletinv1.RecordFollowUpStepRequest{Name: f.GetName(), Etag: f.GetEtag(), Step: step, RequestId: uuid.NewString()})
}

// change records that a new gearbox was fitted, and gives the record.
func (w *works) change(t testing.TB, serial string) string {
	t.Helper()
	return must(w.builds.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/" + serial, Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, ChangeDate: on(2026, 11, 24), Reason: "a sound one",
		Component: &buildv1.Component{Position: "gearbox", Part: "AP-2000", Serial: "N" + serial, Lot: "L9"}}}))(t).GetName()
}

func TestADealerRecordsWorkWithEvidenceOfThatVehicleAndNothingElse(t *testing.T) {
	w := start(t)
	serials := w.fleet(t, 2, 2)
	w.issued(t, ofLot("C-1"))
	mine, others := w.change(t, serials[0]), w.change(t, serials[1])
	w.as(dealer)
	done := func(evidence string) *bulletinv1.FollowUpStep {
		return &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, StepDate: on(2026, 11, 24), Evidence: evidence, Text: "as it should be"}
	}
	for name, step := range map[string]*bulletinv1.FollowUpStep{
		"without evidence":                done(""),
		"with another vehicle's evidence": done(others),
		"with evidence that is not there": done("builds/" + serials[0] + "/changes/none"),
		"with what only the works says":   {Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_REFUSED, StepDate: on(2026, 11, 24)},
		"with what the service says":      {Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_ENTERED, StepDate: on(2026, 11, 24)},
		"of a day to come":                {Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, StepDate: on(2026, 11, 26), Evidence: mine},
	} {
		if _, err := w.record(t, serials[0], step); err == nil {
			t.Errorf("a step %s is taken", name)
		} else {
			refused(t, err, fault.Invalid, "INVALID_FIELD")
		}
	}
	f := must(w.record(t, serials[0], done(mine)))(t)
	last := f.GetSteps()[len(f.GetSteps())-1]
	if f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE || last.GetOrganisation() != dealer.Organisation || len(f.GetLetterDates()) > 0 || f.GetReinspectByDate().GetYear() != 2027 {
		t.Errorf("got %v", f)
	}
	if _, err := w.RecordFollowUpStep(t.Context(), &bulletinv1.RecordFollowUpStepRequest{Name: f.GetName(), Etag: "1", Step: done(mine)}); err == nil {
		t.Error("an old etag is taken")
	}
	// An owner reads that it was done, and nobody's words or names.
	w.as(anOwner)
	for _, step := range w.followUp(t, serials[0]).GetSteps() {
		if step.GetText() != "" || step.GetRecordedBy() != "" {
			t.Errorf("an owner reads %v", step)
		}
	}
	w.as(engineer)
	f = must(w.record(t, serials[0], &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_FOUND_WRONG, Text: "the old layshaft"}))(t)
	if f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE_WRONG || f.GetRound() != 2 || len(f.GetLetterDates()) == 0 {
		t.Errorf("found wrong: %v", f)
	}
}

// A step that is only tried is refused as one that is meant, may rest on work that
// is still to be recorded, and leaves the follow-up as it was.
func TestAStepThatIsOnlyTriedChangesNothing(t *testing.T) {
	w := start(t)
	serial := w.fleet(t, 1, 1)[0]
	w.issued(t, ofLot("C-1"))
	w.as(dealer)
	before := w.followUp(t, serial)
	try := func(evidence, etag string) (*bulletinv1.FollowUp, error) {
		return w.RecordFollowUpStep(t.Context(), &bulletinv1.RecordFollowUpStepRequest{Name: before.GetName(), Etag: etag, ValidateOnly: true, Step: &bulletinv1.FollowUpStep{
			Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, StepDate: on(2026, 11, 24), Evidence: evidence}})
	}
	toCome := "vehicles/" + serial + "/serviceEntries/-"
	if would := must(try(toCome, before.GetEtag()))(t); would.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE || len(would.GetSteps()) != len(before.GetSteps())+1 {
		t.Errorf("got %v", would)
	}
	for name, refuse := range map[string]func() (*bulletinv1.FollowUp, error){
		"evidence that is not there": func() (*bulletinv1.FollowUp, error) { return try("builds/"+serial+"/changes/none", before.GetEtag()) },
		"an old etag":                func() (*bulletinv1.FollowUp, error) { return try(toCome, `"1"`) },
		"work that is to come, where the step is meant": func() (*bulletinv1.FollowUp, error) {
			return w.record(t, serial, &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, StepDate: on(2026, 11, 24), Evidence: toCome})
		},
	} {
		if got, err := refuse(); err == nil {
			t.Errorf("with %s: got %v", name, got)
		}
	}
	if after := w.followUp(t, serial); !proto.Equal(before, after) {
		t.Errorf("it was %v and is %v", before, after)
	}
}

func TestWhatBecameOfAVehicleIsTakenOverAndTakenBack(t *testing.T) {
	w := start(t)
	serials := w.fleet(t, 3, 3)
	w.issued(t, ofLot("C-1"))
	stand := func(serial string, state ownerv1.StandingState) {
		t.Helper()
		n := must(w.owners.GetStanding(t.Context(), &ownerv1.GetStandingRequest{Name: "vehicles/" + serial + "/standing"}))(t)
		n.State, n.SinceDate, n.Note = state, on(2026, 11, 20), "so it is said"
		must(w.owners.UpdateStanding(t.Context(), &ownerv1.UpdateStandingRequest{Standing: n}))(t)
		must(w.RefreshSets(t.Context(), &bulletinv1.RefreshSetsRequest{}))(t)
	}
	stand(serials[0], ownerv1.StandingState_STANDING_STATE_OWNER_UNKNOWN)
	stand(serials[1], ownerv1.StandingState_STANDING_STATE_EXPORTED)
	stand(serials[2], ownerv1.StandingState_STANDING_STATE_SCRAPPED)
	for i, want := range []bulletinv1.FollowUpState{
		bulletinv1.FollowUpState_FOLLOW_UP_STATE_OWNER_UNKNOWN, bulletinv1.FollowUpState_FOLLOW_UP_STATE_EXPORTED, bulletinv1.FollowUpState_FOLLOW_UP_STATE_SCRAPPED,
	} {
		if f := w.followUp(t, serials[i]); f.GetState() != want {
			t.Errorf("%s is %v, want %v", serials[i], f.GetState(), want)
		}
	}
	if again := must(w.RefreshSets(t.Context(), &bulletinv1.RefreshSetsRequest{}))(t); again.GetSteps() != 0 {
		t.Errorf("the same is said again: %v", again)
	}
	stand(serials[0], ownerv1.StandingState_STANDING_STATE_IN_USE)
	if f := w.followUp(t, serials[0]); f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_OPEN {
		t.Errorf("its owner is known again: %v", f)
	}
	r := must(w.GetCampaignReport(t.Context(), &bulletinv1.GetCampaignReportRequest{Name: "bulletins/C-1/campaignReport", Quarter: "2026-Q4"}))(t)
	if r.GetVehicles() != 3 || r.GetClasses().GetScrapped() != 1 || r.GetClasses().GetExported() != 1 || r.GetInQuarter().GetVehicles() != 3 || len(r.GetMissing()) == 0 {
		t.Errorf("the report: %v", r)
	}
}

func TestANewOwnerIsAskedAgainWhereTheFormerOneRefused(t *testing.T) {
	w := start(t)
	serials := w.fleet(t, 2, 2)
	w.issued(t, ofLot("C-1"))
	for _, serial := range serials {
		must(w.record(t, serial, &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_REFUSED, Text: "not now", StepDate: on(2026, 11, 25)}))(t)
	}
	buyer := must(w.owners.CreatePerson(t.Context(), &ownerv1.CreatePersonRequest{Person: &ownerv1.Person{
		FullName: "Ida Brackenbury", Email: "ida@post.example", Language: "en-GB", TimeZone: "Europe/London"}}))(t)
	for i, since := range []int32{25, 24} { // the second is the one who refused
		must(w.owners.CreateTie(t.Context(), &ownerv1.CreateTieRequest{Parent: "vehicles/" + serials[i], Tie: &ownerv1.Tie{
			Person: buyer.GetName(), Role: ownerv1.Role_ROLE_OWNER, StartDate: on(2026, 11, since)}}))(t)
	}
	w.day.Store(1)
	must(w.owners.CreateTie(t.Context(), &ownerv1.CreateTieRequest{Parent: "vehicles/" + serials[0], Joint: true, Tie: &ownerv1.Tie{
		Person: must(w.owners.CreatePerson(t.Context(), &ownerv1.CreatePersonRequest{Person: &ownerv1.Person{
			FullName: "Ned Larkin", Email: "ned@post.example", Language: "en-GB", TimeZone: "Europe/London"}}))(t).GetName(),
		Role: ownerv1.Role_ROLE_OWNER, StartDate: on(2026, 11, 26)}}))(t)
	must(w.RefreshSets(t.Context(), &bulletinv1.RefreshSetsRequest{}))(t)
	if f := w.followUp(t, serials[0]); f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_OPEN || f.GetRound() != 2 {
		t.Errorf("of a new owner: %v", f)
	}
	if f := w.followUp(t, serials[1]); f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_REFUSED {
		t.Errorf("of the one who refused: %v", f)
	}
}

func TestAWithdrawnCampaignCallsOffItsListAndEntersNobody(t *testing.T) {
	w := start(t)
	serials := w.fleet(t, 2, 1)
	b := w.issued(t, ofLot("C-1"))
	why := strings.Repeat("ü", 2000)
	if _, err := w.WithdrawBulletin(t.Context(), &bulletinv1.WithdrawBulletinRequest{Name: b.GetName(), Etag: b.GetEtag(), Reason: why + "."}); err == nil || !strings.Contains(err.Error(), "at most 2,000 characters") {
		t.Errorf("a reason of 2,001 characters: %v", err)
	}
	must(w.WithdrawBulletin(t.Context(), &bulletinv1.WithdrawBulletinRequest{Name: b.GetName(), Etag: b.GetEtag(), Reason: why}))(t)
	r := must(w.RefreshSets(t.Context(), &bulletinv1.RefreshSetsRequest{}))(t)
	if f := w.followUp(t, serials[0]); f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_CALLED_OFF || len(f.GetLetterDates()) > 0 || r.GetSteps() != 1 {
		t.Errorf("after %v: %v", r, f)
	}
	if l := must(w.ListVehicleBulletins(t.Context(), &bulletinv1.ListVehicleBulletinsRequest{Parent: "vehicles/" + serials[0]}))(t); len(l.GetVehicleBulletins()) > 0 {
		t.Errorf("it holds still: %v", l)
	}
}

func TestWhatForbidsUseComesFirstAndAnOwnerIsNotToldWhy(t *testing.T) {
	w := start(t)
	serials := w.fleet(t, 2, 1)
	w.issued(t, ofLot("C-1"))
	advice := ofLot("A-1")
	advice.Kind, advice.Remedy = bulletinv1.BulletinKind_BULLETIN_KIND_ADVICE, nil
	w.issued(t, advice)
	stop := ofLot("Z-1")
	stop.StopUse, stop.Set = true, &bulletinv1.BulletinSet{Condition: &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_Use{
		Use: &bulletinv1.UseCondition{Kinds: []schedulev1.UseKind{schedulev1.UseKind_USE_KIND_TOWING}}}}}
	w.issued(t, stop)
	// Use that is declared counts at once for advice and, with the pass, for a list.
	must(w.schedules.DeclareUse(t.Context(), &schedulev1.DeclareUseRequest{Parent: "vehicles/" + serials[0], UseFact: &schedulev1.UseFact{
		Kind: schedulev1.UseKind_USE_KIND_TOWING, StartDate: on(2026, 11, 24)}}))(t)
	must(w.RefreshSets(t.Context(), &bulletinv1.RefreshSetsRequest{}))(t)
	list := func() []*bulletinv1.VehicleBulletin {
		return must(w.ListVehicleBulletins(t.Context(), &bulletinv1.ListVehicleBulletinsRequest{Parent: "vehicles/" + serials[0]}))(t).GetVehicleBulletins()
	}
	got := list()
	if len(got) != 3 || got[0].GetName() != "vehicles/"+serials[0]+"/bulletins/Z-1" || !got[0].GetFollowUp().GetStopUse() ||
		got[1].GetBulletin().GetName() != "bulletins/C-1/versions/1" || got[2].GetBulletin().GetKind() != bulletinv1.BulletinKind_BULLETIN_KIND_ADVICE {
		t.Fatalf("got %v", got)
	}
	if got[0].GetBulletin().GetSet() != nil || len(got[0].GetMatch().GetReasons()) == 0 {
		t.Errorf("staff are told %v", got[0])
	}
	w.as(anOwner)
	for _, b := range list() {
		if len(b.GetMatch().GetReasons())+len(b.GetFollowUp().GetEnteredBecause()) > 0 || b.GetMatch().GetSentence() == "" {
			t.Errorf("an owner is told %v", b)
		}
	}
	// Of the other nobody said how it is used: it cannot be told, and is looked at.
	other := must(w.ListVehicleBulletins(t.Context(), &bulletinv1.ListVehicleBulletinsRequest{Parent: "vehicles/" + serials[1]}))(t).GetVehicleBulletins()
	if len(other) != 1 || other[0].GetMatch().GetState() != bulletinv1.MatchState_MATCH_STATE_UNKNOWN || other[0].GetBulletin().GetName() != "bulletins/Z-1/versions/1" {
		t.Errorf("another vehicle: %v", other)
	}
}

func TestAPreviewSaysOfEachVehicleWhyAndGoesPageByPage(t *testing.T) {
	w := start(t)
	serials := w.fleet(t, 6, 3)
	b := must(w.CreateBulletin(t.Context(), &bulletinv1.CreateBulletinRequest{Bulletin: ofLot("C-1")}))(t)
	r := &bulletinv1.PreviewSetRequest{Name: b.GetName(), PageSize: 2, States: []bulletinv1.MatchState{bulletinv1.MatchState_MATCH_STATE_IN}}
	first := must(w.PreviewSet(t.Context(), r))(t)
	r.PageToken = first.GetNextPageToken()
	second := must(w.PreviewSet(t.Context(), r))(t)
	if first.GetInCount() != 3 || first.GetInCount()+first.GetOutCount()+first.GetNearCount()+first.GetUnknownCount() != 6 ||
		len(first.GetMatches()) != 2 || len(second.GetMatches()) != 1 || second.GetNextPageToken() != "" ||
		second.GetMatches()[0].GetVehicle() != "vehicles/"+serials[2] || second.GetMatches()[0].GetSentence() == "" {
		t.Errorf("got %v, then %v", first, second)
	}
	_, err := w.PreviewSet(t.Context(), &bulletinv1.PreviewSetRequest{})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
	_, err = w.PreviewSet(t.Context(), &bulletinv1.PreviewSetRequest{Set: &bulletinv1.BulletinSet{
		Condition: &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_Expression{Expression: "release +"}}}})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
}
