package console

import (
	"strings"
	"testing"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
)

func TestAVehicleThatCannotBeReadIsNamedWithoutItems(t *testing.T) {
	lines := []*reminderv1.PendingLine{
		{Vehicle: "vehicles/AM0093L", Reason: "UNREADABLE", Sentence: "It cannot be read."},
		{Vehicle: "vehicles/AM0147P", ItemId: "E01", Reason: "NOBODY", Sentence: "Nobody is told."},
		{Vehicle: "vehicles/AM0147P", Person: "people/p1", ItemId: "E01", Reason: "TOLD", Sentence: "It is told."},
	}
	for name, print := range map[string]func(*sheet, []*reminderv1.PendingLine){"in full": pendingLines, "briefly": pendingBriefly} {
		s := &sheet{}
		print(s, lines)
		for _, want := range []string{"AM0093L\n    It cannot be read.\nAM0147P  nobody\n", "AM0147P  p1\n"} {
			if !strings.Contains(s.String(), want) {
				t.Errorf("%s: %q is not in\n%s", name, want, s)
			}
		}
	}
}

func TestAReportThatIsCutSaysHowMuchIsLeftOut(t *testing.T) {
	s := &sheet{}
	passText(s, &reminderv1.PassReport{
		Claimed: 501, Notices: []*reminderv1.Notice{{Vehicle: "vehicles/AM0093L", Person: "people/p1"}}, HeldLines: 2,
		Held: []*reminderv1.PendingLine{{Vehicle: "vehicles/AM0147P", ItemId: "E01", Sentence: "Nobody is told."}},
	}, true)
	for _, want := range []string{"and 500 notices more\n", "and 1 line more: see pending\n"} {
		if !strings.Contains(s.String(), want) {
			t.Errorf("%q is not in\n%s", want, s)
		}
	}
}
