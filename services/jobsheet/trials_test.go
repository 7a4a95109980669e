package jobsheet

import (
	"fmt"
	"slices"
	"testing"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// shimmed is the job of a joint that is set with shims.
func shimmed(pack, last string) Job {
	v := Value{Line: "1.1", Limit: schedule.MeasuredLimit{Characteristic: "end-float", Unit: "mm", Lower: decimal("0.05"), Upper: decimal("0.15"), Action: decimal("0.22")}}
	if last != "" {
		v.Last = []LastValue{{Value: quantity(last)}}
	}
	s := Shims{Line: "1.s1", Position: "output-shaft-bearing", Characteristic: "end-float"}
	if pack != "" {
		s.Pack = quantity(pack)
	}
	return Job{Number: 1, Values: []Value{v}, Shims: []Shims{s}}
}

func TestPacksAreLookedUpForWhatMayBeMeasured(t *testing.T) {
	for name, c := range map[string]struct {
		job  Job
		want []string
	}{
		"beyond the window, half a window apart":         {shimmed("0.55 mm", "0.11 mm"), []string{"0.20 mm", "0.25 mm", "0.30 mm"}},
		"the last value first, where it is outside":      {shimmed("0.55 mm", "0.19 mm"), []string{"0.19 mm last", "0.20 mm", "0.25 mm", "0.30 mm"}},
		"and once, where it is one of them":              {shimmed("0.55 mm", "0.20 mm"), []string{"0.20 mm last", "0.25 mm", "0.30 mm"}},
		"a joint that is too tight is looked up as well": {shimmed("0.55 mm", "0.02 mm"), []string{"0.02 mm last", "0.20 mm", "0.25 mm", "0.30 mm"}},
		"nothing where nobody knows which pack is in":    {shimmed("", "0.19 mm"), nil},
	} {
		var got []string
		for _, trial := range c.job.Trials(&c.job.Shims[0]) {
			text := trial.Measured.String()
			if trial.Last {
				text += " last"
			}
			got = append(got, text)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: got %v, want %v", name, got, c.want)
		}
	}
}

func TestAPackIsLookedUpForAValueOnlyWhereItIsOutside(t *testing.T) {
	j := shimmed("0.55 mm", "")
	for value, want := range map[string]bool{"0.15 mm": false, "0.16 mm": true, "0.02 mm": true, "7 thou": true, "3 psi": false} {
		if _, got := j.Setting(&j.Values[0], quantity(value)); got != want {
			t.Errorf("%s: got %v, want %v", value, got, want)
		}
	}
}

// What was found before the shims were changed is not held against the limits, and
// what is measured with them is.
func TestShimsThatWereChangedAnswerForWhatWasFound(t *testing.T) {
	s := shafts(t)
	back := func(after string) *Return {
		return &Return{Date: vehicle.MustDate(2026, 5, 18), DoneBy: "Ned", Reading: vehicle.Entered{Value: *decimal("1600"), Unit: vehicle.Miles}, Jobs: []Done{{
			Number: 1, Done: true, Values: []Measured{{Line: "1.1", Value: quantity("0.21 mm")}},
			Shims: []schedule.ShimWork{{Position: "output-shaft-bearing", Characteristic: "end-float", Pack: quantity("0.51 mm"), After: quantity(after), Shims: []schedule.ShimUsed{{Thickness: quantity("0.51 mm"), Count: 1}}}},
		}}}
	}
	for after, want := range map[string]string{"0.10 mm": "[]", "0.17 mm": "[1.s1]"} {
		var got []string
		for _, d := range s.Check(back(after), Heard{}) {
			got = append(got, d.Line)
		}
		if fmt.Sprint(got) != want {
			t.Errorf("with %s reached, to be confirmed is %v, want %s", after, got, want)
		}
	}
	r := &Return{Date: vehicle.MustDate(2026, 5, 18), DoneBy: "Ned", Reading: vehicle.Entered{Value: *decimal("1600"), Unit: vehicle.Miles}, Jobs: []Done{{Number: 1, Done: true, Values: []Measured{{Line: "1.1", Value: quantity("0.21 mm")}}}}}
	advised := s.Check(r, Heard{Packs: map[string]Choice{"1.1": {PackText: "0.51 mm", Pack: quantity("0.51 mm"), Result: quantity("0.10 mm")}}})
	if len(advised) != 1 || advised[0].Reason.Sentence != "Outside limits, confirm: 1.1 end float is 0.21 mm, and is to be 0.05 to 0.15 mm. It is beyond the action limit of 0.20 mm: ask the engineer before it is driven on. Shims that put it right: 0.51 mm, 0.51 mm thick, which leaves 0.10 mm." {
		t.Errorf("got %+v", advised)
	}
}

// An item that looks at several positions asks at each, or at the places on it
// where it was measured before.
func TestAnItemThatLooksAtSeveralPositionsHasALineForEach(t *testing.T) {
	f := Facts{
		Serial: "AM0147P", Visit: vehicle.MustDate(2026, 5, 18), Positions: []string{"propshaft-front", "propshaft-rear", "engine"},
		Items: []Item{
			{ID: "P01", Position: "propshaft", Measured: []schedule.MeasuredLimit{{Characteristic: "spline-play", Unit: "mm", Upper: decimal("1.0")}}},
			{ID: "E04", Position: "engine", Measured: []schedule.MeasuredLimit{{Characteristic: "gap", Unit: "mm"}}},
		},
		Series: []Series{{Position: "propshaft-rear-tail", Characteristic: "spline-play", Values: []LastValue{{Value: quantity("0.4 mm")}}}, {Characteristic: "spline-play", Position: "propshaft", Values: []LastValue{{Value: quantity("0.3 mm")}}}},
	}
	s, err := Make(f)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, j := range s.Jobs {
		for _, v := range j.Values {
			got = append(got, v.Line+" "+v.Position)
		}
	}
	if want := []string{"1.1 propshaft-front", "1.2 propshaft-rear-tail", "2.1 "}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestALimitedSlipAxleHasItsCautionBeforeAnyWork(t *testing.T) {
	for option, want := range map[string]int{"lsd-rear": 3, "lsd-front": 3, "winch": 2} {
		s, err := Make(Facts{Serial: "AM0147P", Options: []string{option}, Items: []Item{{ID: "W03", Group: "wheels"}}})
		if err != nil || len(s.Cautions) != want {
			t.Errorf("%s: got %q, %v", option, s.Cautions, err)
		}
	}
}

// A look at the level opens a plug, and nothing else that stands on its page.
func TestALookAtALevelHasTheTorqueOfThePlugAndAnOilChangeHasAllOfItsPage(t *testing.T) {
	setting := func(subject string) SheetSetting {
		return SheetSetting{Setting: Setting{Position: "gearbox", Title: subject + ", torque"}, Characteristic: "torque", Subject: subject, Doc: "Workshop book G1"}
	}
	for title, want := range map[string]int{"Gearbox oil level check": 1, "Look for water in the gearbox oil": 1, "Gearbox oil change": 2, "Check of the housing bolts": 2} {
		s, err := Make(Facts{
			Serial: "AM0147P", Visit: vehicle.MustDate(2026, 5, 18), Settings: []SheetSetting{setting("level plug"), setting("housing bolts")},
			Items: []Item{{ID: "G", Title: title, Group: "gearbox", Position: "gearbox", Doc: "Workshop book G1"}},
		})
		if err != nil || len(s.Jobs[0].Settings) != want {
			t.Errorf("%s: got %d settings, %v, want %d", title, len(s.Jobs[0].Settings), err, want)
		}
	}
}
