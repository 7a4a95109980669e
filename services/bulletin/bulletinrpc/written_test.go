package bulletinrpc_test

import (
	"strings"
	"testing"

	"github.com/google/uuid"
	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
)

var reminding = access.Caller{Role: access.Service, Bearer: "reminder"}

func letter(cycle string) *bulletinv1.FollowUpStep {
	return &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_WRITTEN, StepDate: on(2026, 11, 25), Letter: cycle}
}

func TestOnlyAServiceRecordsThatALetterWentOutAndEachOnce(t *testing.T) {
	w := start(t)
	serials := w.fleet(t, 2, 2)
	w.issued(t, ofLot("C-1"))
	for name, by := range map[string]access.Caller{"an engineer": engineer, "an administrator": {Role: access.Administrator, Bearer: "office"}, "a dealer": dealer} {
		w.as(by)
		_, err := w.record(t, serials[0], letter("C-1.1"))
		if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); f.Fields[0].Name != "step.kind" || !strings.Contains(f.Fields[0].Want, "by the reminder service alone") {
			t.Errorf("%s: %v", name, f)
		}
	}
	w.as(reminding)
	_, err := w.record(t, serials[0], &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_NOTIFIED, StepDate: on(2026, 11, 25)})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
	before := w.followUp(t, serials[0])
	r := &bulletinv1.RecordFollowUpStepRequest{Name: before.GetName(), Etag: before.GetEtag(), Step: letter("C-1.1"), RequestId: uuid.NewString()}
	after := must(w.RecordFollowUpStep(t.Context(), r))(t)
	again := must(w.RecordFollowUpStep(t.Context(), r))(t)
	if !proto.Equal(after, again) || after.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_NOTIFIED || after.GetNotifiedDate() == nil ||
		after.GetSteps()[1].GetLetter() != "C-1.1" || after.GetSteps()[1].GetRecordedBy() != "reminder" {
		t.Errorf("got %v, then %v", after, again)
	}
	if after.GetLetter().GetCycle() != "C-1.1" {
		t.Errorf("for others and by other ways the letter is %v", after.GetLetter())
	}
	_, err = w.record(t, serials[0], letter("C-1.1"))
	refused(t, err, fault.AlreadyExists, "LETTER_RECORDED")
	_, err = w.record(t, serials[0], letter("C-2.1"))
	refused(t, err, fault.Invalid, "INVALID_FIELD")
	w.as(engineer)
	report := must(w.GetCampaignReport(t.Context(), &bulletinv1.GetCampaignReportRequest{Name: "bulletins/C-1/campaignReport"}))(t)
	if report.GetNotified() != 1 || report.GetClasses().GetNotified() != 1 || !strings.Contains(strings.Join(report.GetSentences(), "\n"), "2 vehicles: 1 told") {
		t.Errorf("the report: %v", report)
	}
}

// next issues the next version of C-1.
func (w *works) next(t testing.TB, change func(*bulletinv1.Bulletin)) *bulletinv1.Bulletin {
	t.Helper()
	b := must(w.GetBulletin(t.Context(), &bulletinv1.GetBulletinRequest{Name: "bulletins/C-1/versions/-"}))(t)
	next := ofLot("C-1")
	next.Set = b.GetSet()
	next.Name = "bulletins/C-1/versions/" + string(b.GetName()[len(b.GetName())-1]+1)
	change(next)
	return w.issued(t, next)
}

// refresh looks at all sets, and gives how many steps that made.
func (w *works) refresh(t testing.TB) int32 {
	t.Helper()
	return must(w.RefreshSets(t.Context(), &bulletinv1.RefreshSetsRequest{}))(t).GetSteps()
}

func TestAVersionWithStopUseIsToldAnewAndOneOfOtherWordsIsNot(t *testing.T) {
	w := start(t)
	serials := w.fleet(t, 3, 2)
	w.issued(t, ofLot("C-1"))
	w.as(reminding)
	must(w.record(t, serials[0], letter("C-1.1")))(t)
	w.as(engineer)
	must(w.record(t, serials[1], &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, StepDate: on(2026, 11, 25), Evidence: w.change(t, serials[1])}))(t)
	w.next(t, func(b *bulletinv1.Bulletin) { b.Title, b.Fault = "Said better", "And clearer." })
	w.refresh(t)
	if f := w.followUp(t, serials[0]); f.GetRound() != 1 || f.GetLetter().GetCycle() != "C-1.1" {
		t.Errorf("other words: %v", f)
	}
	w.next(t, func(b *bulletinv1.Bulletin) { b.StopUse = true })
	w.refresh(t)
	if n := w.refresh(t); n != 0 {
		t.Errorf("a second look makes %d steps", n)
	}
	f := w.followUp(t, serials[0])
	last := f.GetSteps()[len(f.GetSteps())-1]
	if f.GetRound() != 2 || f.GetLetter().GetCycle() != "C-1.2" || f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_OPEN || !f.GetStopUse() ||
		last.GetKind() != bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_NEW_VERSION || last.GetEvidence() != "bulletins/C-1/versions/3" ||
		last.GetText() != "By version 3 the vehicle is not to be driven before the remedy." {
		t.Errorf("stop-use: %v", f)
	}
	if done := w.followUp(t, serials[1]); done.GetRound() != 1 || done.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE {
		t.Errorf("what was done: %v", done)
	}
}

func TestWhatAWithdrawnCampaignCalledOffComesBackWithItsNextVersionOnce(t *testing.T) {
	w := start(t)
	serials := w.fleet(t, 3, 2)
	b := w.issued(t, ofLot("C-1"))
	must(w.WithdrawBulletin(t.Context(), &bulletinv1.WithdrawBulletinRequest{Name: b.GetName(), Etag: b.GetEtag(), Reason: "a slip"}))(t)
	w.refresh(t)
	for _, s := range serials[:2] {
		if f := w.followUp(t, s); f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_CALLED_OFF || f.GetLetter() != nil {
			t.Fatalf("called off: %v", f)
		}
	}
	must(w.builds.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/" + serials[1], Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, ChangeDate: on(2026, 11, 24), Reason: "a sound one",
		Component: &buildv1.Component{Position: "gearbox", Part: "AP-2000", Serial: "N1", Lot: "L9"}}}))(t)
	w.next(t, func(*bulletinv1.Bulletin) {})
	w.refresh(t)
	if n := w.refresh(t); n != 0 {
		t.Errorf("a second look makes %d steps", n)
	}
	f := w.followUp(t, serials[0])
	last := f.GetSteps()[len(f.GetSteps())-1]
	if f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_OPEN || f.GetRound() != 2 || f.GetLetter().GetCycle() != "C-1.2" ||
		last.GetKind() != bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_REOPENED || last.GetEvidence() != "bulletins/C-1/versions/2" || last.GetRecordedBy() != "bulletin" {
		t.Errorf("it is back: %v", f)
	}
	if f := w.followUp(t, serials[1]); f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_CALLED_OFF {
		t.Errorf("the one whose gearbox was replaced meanwhile: %v", f)
	}
}

func TestAHoldSaysSinceWhenItHolds(t *testing.T) {
	w := start(t)
	w.fleet(t, 2, 1)
	first := w.issued(t, ofLot("C-1"))
	w.day.Store(3)
	w.next(t, func(b *bulletinv1.Bulletin) { b.HoldDelivery = true })
	w.day.Store(7)
	w.next(t, func(b *bulletinv1.Bulletin) { b.HoldDelivery, b.Title = true, "Said better" })
	get := func(name string) *bulletinv1.Bulletin {
		return must(w.GetBulletin(t.Context(), &bulletinv1.GetBulletinRequest{Name: name}))(t)
	}
	if b := get("bulletins/C-1/versions/-"); !proto.Equal(b.GetHoldFromDate(), on(2026, 11, 28)) {
		t.Errorf("since %v", b.GetHoldFromDate())
	}
	if b := get(first.GetName()); b.GetHoldFromDate() != nil {
		t.Errorf("the first version holds since %v", b.GetHoldFromDate())
	}
}
