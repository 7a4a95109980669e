package build_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

func TestAVehicleIsFoundByWhatHoldsNowAndByWhatHeldOnce(t *testing.T) {
	rec, releases := first(t)
	changes := history(
		build.Change{Kind: build.Fit, Source: build.SourceService, Date: day(2014, 1, 1), Component: build.Component{Position: "gearbox", Serial: "GB-2000"}},
		build.Change{Kind: build.PlateChanged, Date: day(2015, 1, 1), Plate: "AB 1"},
	)
	terms, err := build.Terms(&rec, changes, releases)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		fragment string
		want     build.Term
	}{
		{"417066", build.Term{Kind: build.TermFrame, Text: "FN 2417-066"}},
		{"GB2000", build.Term{Kind: build.TermComponent, Text: "GB-2000"}},
		{"GB119", build.Term{Kind: build.TermComponent, Text: "GB-1190", Former: true}},
		{"L07", build.Term{Kind: build.TermLot, Text: "L07"}}, // the transfer case of that lot is still there
		{"AB1", build.Term{Kind: build.TermPlate, Text: "AB 1"}},
		{"QA147", build.Term{Kind: build.TermPlate, Text: "QA 147 X", Former: true}},
	} {
		got, ok := build.Match(terms, c.fragment)
		if !ok || got != c.want {
			t.Errorf("%s: got %+v, %v; want %+v", c.fragment, got, ok, c.want)
		}
	}
	if got, ok := build.Match(terms, "NOPE"); ok {
		t.Errorf("a fragment of nothing: got %+v", got)
	}
}

func TestARefusalSaysWhatWasHeardAndNamesNoOtherVehicle(t *testing.T) {
	for _, c := range []struct{ heard, want string }{
		{"am-0147 q", "Heard A M 0 1 4 7 Q, but the check character of A M 0 1 4 7 is P. Ask for the serial again."},
		{"AMO147P", "Heard A M O 1 4 7 P, but the check character of A M O 1 4 7 is B. Ask for the serial again."},
		{"AM01?7P", "Heard A M 0 1 ? 7 P, "},
		{"AM0147P", ""},
	} {
		got, refused := build.Refusal(c.heard)
		if refused != (c.want != "") || len(got) < len(c.want) || got[:len(c.want)] != c.want {
			t.Errorf("%q: got %q, want %q", c.heard, got, c.want)
		}
	}
}

func TestFoldingIsTheSameHoweverANumberIsWritten(t *testing.T) {
	for _, text := range []string{"GB-1190", "gb 1190", "GB1190", " g.b/1190 "} {
		if got := build.Fold(text); got != "GB1190" {
			t.Errorf("Fold(%q) = %q, want GB1190", text, got)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.String().Draw(t, "text")
		if once := build.Fold(text); build.Fold(once) != once {
			t.Fatalf("Fold(%q) = %q, and folded again %q", text, once, build.Fold(once))
		}
	})
}

func TestAComponentCannotBeInTwoPlacesAtOnce(t *testing.T) {
	on := func(serial vehicle.Serial, position string, from, until vehicle.Date) build.Holding {
		return build.Holding{Key: "GB1", Serial: "GB-1", Vehicle: serial, Position: position, From: from, Until: until}
	}
	never := vehicle.Date{}
	for _, c := range []struct {
		name         string
		mine, others []build.Holding
		conflict     bool
	}{
		{"alone", []build.Holding{on("A", "gearbox", day(2010, 1, 1), never)}, nil, false},
		{"both there now", []build.Holding{on("A", "gearbox", day(2010, 1, 1), never)}, []build.Holding{on("B", "gearbox", day(2015, 1, 1), never)}, true},
		{"handed over on one day", []build.Holding{on("A", "gearbox", day(2015, 1, 1), never)}, []build.Holding{on("B", "gearbox", day(2010, 1, 1), day(2015, 1, 1))}, false},
		{"fitted a day too early", []build.Holding{on("A", "gearbox", day(2014, 12, 31), never)}, []build.Holding{on("B", "gearbox", day(2010, 1, 1), day(2015, 1, 1))}, true},
		{"earlier, and gone before", []build.Holding{on("A", "gearbox", day(2001, 1, 1), day(2002, 1, 1))}, []build.Holding{on("B", "gearbox", day(2010, 1, 1), never)}, false},
		{"two positions of one vehicle", []build.Holding{on("A", "left", day(2001, 1, 1), never), on("A", "right", day(2001, 1, 1), never)}, nil, true},
		{"from left to right", []build.Holding{on("A", "left", day(2001, 1, 1), day(2003, 1, 1)), on("A", "right", day(2003, 1, 1), never)}, nil, false},
	} {
		if got := build.Conflicts(c.mine, c.others); (len(got) > 0) != c.conflict {
			t.Errorf("%s: got %v", c.name, got)
		}
		if got := build.Conflicts(c.others, c.mine); c.others != nil && (len(got) > 0) != c.conflict {
			t.Errorf("%s, the other way round: got %v", c.name, got)
		}
	}
}

func TestMovedNamesTheComponentsWhosePlaceDiffers(t *testing.T) {
	a := build.Holding{Key: "A", Vehicle: "V", From: day(2010, 1, 1)}
	b := build.Holding{Key: "B", Vehicle: "V", From: day(2010, 1, 1)}
	gone := b
	gone.Until = day(2012, 1, 1)
	if got := build.Moved([]build.Holding{a, b}, []build.Holding{b, a}); len(got) != 0 {
		t.Errorf("nothing moved: got %v", got)
	}
	if diff := cmp.Diff([]string{"B"}, build.Moved([]build.Holding{a, b}, []build.Holding{a, gone})); diff != "" {
		t.Error(diff)
	}
}
