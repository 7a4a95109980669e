package jobsheetrpc

import (
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/type/date"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/schedule"
	"halfshaft/services/wording"
)

// The works makes a sheet, and a dealer reads it, who is not to know when the
// vehicle stands still.
func TestASheetSaysTheDayOfMovedWorkAndNotThatTheVehicleIsPutAway(t *testing.T) {
	was := "The vehicle is laid up then, so it is to be done before it is put away, by 30 September 2026."
	st := &schedulev1.ItemStatus{ItemId: "T01", Sentence: "12 months since the last change; " + wording.LowerFirst(was), ActByDate: &date.Date{Year: 2026, Month: 9, Day: 30},
		Reasons: []*vehiclev1.Reason{{Rule: "INTERVAL", Sentence: "12 months since the last change."}, {Rule: schedule.RuleMovedByLayUp, Sentence: was}}}
	item, err := itemOf(st)
	if err != nil {
		t.Fatal(err)
	}
	if want := "12 months since the last change; the day to do it by is 30 September 2026."; item.Why != want {
		t.Errorf("got %q, want %q", item.Why, want)
	}
	st.ActByDate = nil
	if item, _ = itemOf(st); strings.Contains(item.Why, "laid up") || !strings.Contains(item.Why, "no day") {
		t.Errorf("without a day: %q", item.Why)
	}
}
