package desk

import (
	"testing"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
)

// Work that was found wrong as a remedy, and was followed by other work, is the
// remedy of nothing: nobody is told to record that it was found wrong again.
func TestACampaignIsDoneByTheWorkThatWasDoneLast(t *testing.T) {
	const done, wrong = bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_FOUND_WRONG
	f := &bulletinv1.FollowUp{State: bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE, Steps: []*bulletinv1.FollowUpStep{
		{Kind: done, Evidence: "first"}, {Kind: wrong, Evidence: "found"}, {Kind: done, Evidence: "second"},
	}}
	for entry, want := range map[string]bool{"first": false, "found": false, "second": true, "": false} {
		if remediedBy(f, entry) != want {
			t.Errorf("done by %q: %v", entry, !want)
		}
	}
	f.State = bulletinv1.FollowUpState_FOLLOW_UP_STATE_OPEN
	if remediedBy(f, "second") {
		t.Error("an open campaign is done")
	}
}
