package console

import (
	"testing"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
)

func TestStruckWorkThatACampaignCountsAsItsRemedyIsSaidToBeSo(t *testing.T) {
	const done = bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE
	by := func(id, evidence string) *bulletinv1.FollowUp {
		return &bulletinv1.FollowUp{Name: "vehicles/AM0147P/followUps/" + id, State: done, Steps: []*bulletinv1.FollowUpStep{
			{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, Evidence: "vehicles/AM0147P/serviceEntries/" + evidence},
		}}
	}
	anew := by("C-2026-03", "0192f0") // found wrong since, and done by other work
	anew.Steps = append(anew.Steps, &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_FOUND_WRONG}, by("C-2026-03", "0192f2").Steps[0])
	s := &sheet{}
	stillRemedied(s, "vehicles/AM0147P/serviceEntries/0192f0", []*bulletinv1.FollowUp{by("C-2026-01", "0192f1"), by("C-2026-02", "0192f0"), anew})
	want := "Campaign C-2026-02 counts this work as its remedy, and stays done until it is recorded that it\nwas found wrong:\n" +
		"  halfshaft campaign record AM0147P C-2026-02 wrong\n"
	if s.String() != want {
		t.Errorf("got\n%s\nwant\n%s", s, want)
	}
}
