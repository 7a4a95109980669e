package bulletinwire

import (
	"slices"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
)

// RemediedBy reports whether a campaign is done on a vehicle by a service entry,
// the name of which is entry: one that was found wrong and done anew is done by what
// was done last.
func RemediedBy(f *bulletinv1.FollowUp, entry string) bool {
	if f.GetState() != bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE {
		return false
	}
	for _, s := range slices.Backward(f.GetSteps()) {
		if s.GetKind() == bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE {
			return s.GetEvidence() == entry
		}
	}
	return false
}
