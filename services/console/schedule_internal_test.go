package console

import (
	"testing"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
)

func TestTheReasonsOfAnItemAreSentencesWithoutTheirCodes(t *testing.T) {
	s := &sheet{}
	itemText(s, &schedulev1.ItemStatus{
		ItemId: "E01", Sentence: "Engine oil: due on 3 April 2026.",
		Reasons: []*vehiclev1.Reason{{Rule: "TIME_LIMB_FIRST", Sentence: "The time comes before the distance."}},
	}, true)
	if want := "  E01  Engine oil: due on 3 April 2026.\n       The time comes before the distance.\n"; s.String() != want {
		t.Errorf("got\n%s\nwant\n%s", s, want)
	}
}
