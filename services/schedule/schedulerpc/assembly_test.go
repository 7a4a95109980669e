package schedulerpc_test

import (
	"testing"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
)

// With another transfer case comes another bearing, and the shims behind the old
// one went with it: which are in is not on record from that day on. Overhauled
// where it stands, the case keeps them.
func TestAnotherAssemblyBeginsWhatIsInItAnew(t *testing.T) {
	for kind, want := range map[buildv1.ChangeKind]string{
		buildv1.ChangeKind_CHANGE_KIND_FIT:      "another transfer case was fitted, and with it another output shaft bearing",
		buildv1.ChangeKind_CHANGE_KIND_OVERHAUL: "",
	} {
		w := worn(t)
		w.reshimmed(repacked(floats("T02"), "0.18 mm", "0.11 mm", "0.58 mm", "0.51 mm"))
		change := must(w.builds.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/AM0147P", Change: &buildv1.Change{
			Kind: kind, ChangeDate: calendar("2026-03-02"), Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, Reason: "the case was worn", DoneBy: "Ned",
			Component: &buildv1.Component{Position: "transfer-case"},
		}}))(t)
		for _, characteristic := range []string{"shim-pack", "end-float"} {
			got := ""
			for _, b := range w.series("2026-05-18", "output-shaft-bearing", characteristic).GetBreaks() {
				if b.GetRecord() == change.GetName() && iso(b.GetBreakDate()) == "2026-03-02" {
					got = b.GetText()
				}
			}
			if got != want {
				t.Errorf("%v, %s: %q, want %q", kind, characteristic, got, want)
			}
		}
		if b := w.series("2026-03-01", "output-shaft-bearing", "shim-pack").GetBreaks(); len(b) != 1 {
			t.Errorf("%v: on the day before, %v", kind, b)
		}
		if j := w.judge(&schedulev1.JudgeMeasurementRequest{Value: quantity("0.12 mm"), Position: "output-shaft-bearing", Characteristic: "end-float", MeasuredDate: calendar("2026-05-18")}); j.GetSameComponent() != (want == "") {
			t.Errorf("%v: held against the value of the same component: %v", kind, j.GetSameComponent())
		}
	}
}
