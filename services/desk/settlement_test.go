package desk

import (
	"net/url"
	"testing"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
)

// Explanations are worked out anew when another reading comes in. What was chosen
// on the page is decided, or nothing is: never what has its place in the list now.
func TestADoubtfulReadingIsSettledAsThePageSaidAndNotByAPlaceInAList(t *testing.T) {
	would := func(value string) *schedulev1.Explanation {
		return &schedulev1.Explanation{Rule: "SWAPPED_DIGITS", Verdict: schedulev1.Verdict_VERDICT_CORRECTED,
			WouldRead: &vehiclev1.Distance{EnteredValue: value, EnteredUnit: "mi"}}
	}
	round := &schedulev1.Explanation{Rule: "ROLLED_OVER", Verdict: schedulev1.Verdict_VERDICT_ROLLED_OVER}
	x := &schedulev1.Reading{Name: "vehicles/AM0147P/readings/r1", Explanations: []*schedulev1.Explanation{would("41320"), round}}
	f := settleForm("settle-1", x)
	first := f.field("settlement.verdict").Options[0].Value
	for name, c := range map[string]struct {
		now     []*schedulev1.Explanation
		verdict schedulev1.Verdict
		value   string
		refused bool
	}{
		"as they were":            {x.GetExplanations(), schedulev1.Verdict_VERDICT_CORRECTED, "41320", false},
		"in another order":        {[]*schedulev1.Explanation{round, would("41320")}, schedulev1.Verdict_VERDICT_CORRECTED, "41320", false},
		"with another value":      {[]*schedulev1.Explanation{would("14230"), round}, 0, "", true},
		"without what was chosen": {[]*schedulev1.Explanation{round}, 0, "", true},
	} {
		form := typed{visit: sent(url.Values{"settlement.verdict": {first}, "settlement.reason": {"rang the owner"}})}
		got := form.settlement(&schedulev1.Reading{Explanations: c.now})
		if got.GetVerdict() != c.verdict || got.GetCorrected().GetEnteredValue() != c.value || c.refused != (len(form.wrong) == 1) {
			t.Errorf("%s: %v, refused %v", name, got, form.wrong)
		}
	}
}
