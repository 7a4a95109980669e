package jobsheet

import (
	"slices"
	"strings"
	"testing"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// pins is a sheet of one job with two packs, left and right.
func pins(t *testing.T) *Sheet {
	t.Helper()
	limit := schedule.MeasuredLimit{Characteristic: "end-float", Unit: "mm", Lower: decimal("0.05"), Upper: decimal("0.15")}
	f := Facts{Serial: "AM0147P", Visit: vehicle.MustDate(2026, 5, 18), Positions: []string{"pin-left", "pin-right"},
		Items: []Item{{ID: "J03", Title: "Pins", Position: "pin", Doc: "J3", Measured: []schedule.MeasuredLimit{limit}}}}
	for _, at := range f.Positions {
		f.Settings = append(f.Settings, SheetSetting{Setting: Setting{Position: at}, Characteristic: "end-float", Doc: "J3", Shimmed: true})
	}
	s, err := Make(f)
	if err != nil || len(s.Jobs[0].Shims) != 2 || len(s.Jobs[0].Values) != 2 {
		t.Fatalf("%v, %v", s.Jobs, err)
	}
	return &s
}

func reshimmedAt(position, found, after string) Return {
	pack := schedule.ShimWork{Position: position, Characteristic: "end-float", Pack: quantity("0.51 mm"), Shims: []schedule.ShimUsed{{Thickness: quantity("0.51 mm"), Count: 1}}}
	if after != "" {
		pack.After = quantity(after)
	}
	return Return{Date: vehicle.MustDate(2026, 5, 18), DoneBy: "Ned", Reading: vehicle.Entered{Value: *decimal("1600"), Unit: vehicle.Miles},
		Jobs: []Done{{Number: 1, Done: true, Values: []Measured{{Line: "1.1", Value: quantity("0.10 mm")}, {Line: "1.2", Value: quantity(found)}}, Shims: []schedule.ShimWork{pack}}}}
}

// Of two packs only the right one was changed: what is odd about it is asked and
// confirmed under its own line, and not under that of the left one.
func TestAPackIsConfirmedUnderTheLineThatItHasOnTheSheet(t *testing.T) {
	s, back := pins(t), reshimmedAt("pin-right", "0.20 mm", "0.17 mm")
	doubts := s.Check(&back, Heard{})
	if len(doubts) != 1 || doubts[0].Line != "1.s2" || doubts[0].Field != "jobs[0].shims[0].measured_after" {
		t.Fatalf("got %+v", doubts)
	}
	back.Confirmed = []Confirmation{{"1.s2", "looked at again at 500 miles"}}
	if doubts := s.Check(&back, Heard{}); len(doubts) != 0 {
		t.Errorf("confirmed, and still %+v", doubts)
	}
	if note := s.Follow(&back).Entry.Items[0].Note; !strings.Contains(note, "looked at again at 500 miles") {
		t.Errorf("the note is %q", note)
	}
}

// A value with the new pack that cannot be held against the limits puts nothing
// right: it would let a value outside them pass unconfirmed.
func TestAValueWithTheNewPackInAUnitOfAnotherKindIsWrong(t *testing.T) {
	s, back := pins(t), reshimmedAt("pin-right", "0.90 mm", "6.5 kgf")
	var got []string
	for _, d := range s.Check(&back, Heard{}) {
		got = append(got, d.Reason.Rule)
	}
	slices.Sort(got)
	if want := []string{"OUTSIDE_LIMITS", "UNIT"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// One confirmation is for all that is odd about a value: so all of it is said.
func TestAValueThatIsOutsideAndUnlikeTheLastSaysBoth(t *testing.T) {
	s, back := shafts(t), reshimmedAt("", "0.10 mm", "")
	back.Jobs[0].Values, back.Jobs[0].Shims = []Measured{{Line: "1.1", Value: quantity("0.90 mm")}}, nil
	doubts := s.Check(&back, Heard{Values: map[string]vehicle.Reason{"1.1": {Rule: "UNLIKE_LAST", Sentence: "It was 0.09 mm a month ago."}}})
	if len(doubts) != 1 || !strings.Contains(doubts[0].Reason.Sentence, "action limit") || !strings.Contains(doubts[0].Reason.Sentence, "0.09 mm a month ago") {
		t.Errorf("got %+v", doubts)
	}
}
