package jobsheet

import (
	"testing"

	"halfshaft/services/fault"
)

// A campaign asks for the lot of a part, or for a value: it is said beside the
// part or the job as it was typed, and not above everything without saying of
// which.
func TestWhatACampaignAsksForIsSaidBesideItsPartOrItsJob(t *testing.T) {
	w := Work{Entry: Entry{Parts: []PartUsed{{Number: "AP-1", Quantity: 1}, {Number: "AP-2", Quantity: 1}}}, Steps: []Step{
		{FollowUp: "vehicles/AM0147P/followUps/C-1", Jobs: []int{0}, Parts: []StepPart{{Number: "AP-1", Quantity: 1}}},
		{FollowUp: "vehicles/AM0147P/followUps/C-2", Jobs: []int{3}, Parts: []StepPart{{Number: "AP-2", Quantity: 1}}}}}
	for name, want := range map[string]string{
		"steps[0].parts[0].lot": "parts[0].lot", "steps[1].parts[0].lot": "parts[1].lot", "steps[1].measured": "jobs[3]",
		"steps[1].parts[4].lot": "jobs[3]", "steps[2].measured": "steps[2].measured", "changes[0].kind": "changes[0].kind",
	} {
		if got := w.Refer(fault.Field{Name: name}).Name; got != want {
			t.Errorf("%s becomes %s, want %s", name, got, want)
		}
	}
}
