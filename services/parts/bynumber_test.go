package parts_test

import (
	"strings"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/parts"
)

// hubs is a catalogue with one nut at two places, which is superseded twice in
// years to come.
func hubs(t *testing.T) (*parts.Catalogue, build.ReleaseSet) {
	c := parts.NewCatalogue()
	for _, number := range []string{"AP-7101", "AP-7102", "AP-7103", "AP-8101", "XQ-8101"} {
		c.Put(part(number, "Nut"))
	}
	c.PutSupersession(parts.Supersession{ID: "S1", Old: "AP-7101", New: lines(line("AP-7102", 1)), Effective: day("2030-01-01")})
	c.PutSupersession(parts.Supersession{ID: "S2", Old: "AP-7102", New: lines(line("AP-7103", 1)), Effective: day("2031-01-01")})
	c.Seal()
	return c, build.ReleaseSet{"R1": {ID: "R1", Title: "One", Effective: day("2010-01-01"), Programme: "p", Fitments: []build.Fitment{
		fitment("hub-left", "AP-7101", 1), fitment("hub-right", "AP-7101", 1), fitment("heater", "AP-8101", 1), fitment("winch", "XQ-8101", 1),
	}}}
}

func TestANumberOfTheFutureIsRefusedWithItsDayAndWhatFitsUntilThen(t *testing.T) {
	c, releases := hubs(t)
	for number, want := range map[string]string{"AP-7102": "from 1 January 2030", "AP-7103": "from 1 January 2031"} {
		a := askOf(t, c, releases, built("AM0101", "R1"), today, number)
		if a.Refusal == nil || a.Refusal.Rule != parts.ConditionNotMet || !strings.Contains(a.Refusal.Sentence, want) {
			t.Errorf("%s: got %+v, want %q", number, a.Refusal, want)
		}
		if len(a.Choices) != 2 || a.Choices[0].Order.Number != "AP-7101" || a.AskBack == "" {
			t.Errorf("%s: got %d choices and the question %q, want AP-7101 on both sides", number, len(a.Choices), a.AskBack)
		}
	}
}

func TestFiguresAloneAreCheckedWithTheCaller(t *testing.T) {
	c, releases := hubs(t)
	for _, test := range []struct {
		question string
		choices  int
		asks     string
	}{
		{"7101", 2, "Left or right?"},
		{"710", 0, ""},  // too few to know a part by
		{"8101", 0, ""}, // two parts have them
		{"9999", 0, ""},
	} {
		a := askOf(t, c, releases, built("AM0101", "R1"), today, test.question)
		if len(a.Choices) != test.choices || !strings.HasPrefix(a.AskBack, test.asks) || test.choices == 0 && a.Refusal == nil {
			t.Errorf("%s: got %d choices, %q, %+v", test.question, len(a.Choices), a.AskBack, a.Refusal)
		}
	}
	a := askOf(t, c, releases, built("AM0101", "R1"), today, "hub left AP-7101")
	if len(a.Choices) != 1 || a.AskBack != "" {
		t.Errorf("a whole number with its place is not asked about: got %d choices, %q", len(a.Choices), a.AskBack)
	}
}
