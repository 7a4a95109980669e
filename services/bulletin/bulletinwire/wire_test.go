package bulletinwire

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/bulletin"
	"halfshaft/services/fault"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// conditions draws a condition, with others inside it down to a depth.
func conditions(depth int) *rapid.Generator[bulletin.Condition] {
	return rapid.Custom(func(t *rapid.T) bulletin.Condition {
		words := rapid.SliceOfN(rapid.StringMatching(`[A-Z]{1,3}[0-9]{0,4}`), 1, 3)
		kinds := 12
		if depth == 0 {
			kinds = 9
		}
		switch rapid.IntRange(0, kinds-1).Draw(t, "kind") {
		case 0:
			return bulletin.Condition{Release: &bulletin.ReleaseCondition{Releases: words.Draw(t, "releases"), AsBuilt: rapid.Bool().Draw(t, "as built")}}
		case 1:
			return bulletin.Condition{Option: &bulletin.OptionCondition{Option: "winch", AsBuilt: rapid.Bool().Draw(t, "as built")}}
		case 2:
			return bulletin.Condition{Serials: &bulletin.SerialRange{First: "AM0120A", Last: "AM0147P", Except: []vehicle.Serial{"AM01218"}}}
		case 3:
			return bulletin.Condition{Built: &bulletin.DateRange{Start: vehicle.MustDate(2012, 2, 29)}}
		case 4:
			return bulletin.Condition{Delivered: &bulletin.DateRange{End: vehicle.MustDate(2020, 12, 31)}}
		case 5:
			return bulletin.Condition{Fitted: &bulletin.FittedUnit{Position: "gearbox", Parts: words.Draw(t, "parts"), Lots: words.Draw(t, "lots"), Ever: rapid.Bool().Draw(t, "ever")}}
		case 6:
			return bulletin.Condition{Use: &bulletin.UseCondition{Kinds: []schedule.UseKind{1, 4}, Ever: rapid.Bool().Draw(t, "ever")}}
		case 7:
			return bulletin.Condition{Markets: words.Draw(t, "markets")}
		case 8:
			return bulletin.Condition{Expression: `"winch" in options`}
		case 9:
			return bulletin.Condition{All: rapid.SliceOfN(conditions(depth-1), 1, 3).Draw(t, "all")}
		case 10:
			return bulletin.Condition{Any: rapid.SliceOfN(conditions(depth-1), 1, 3).Draw(t, "any")}
		}
		not := conditions(depth-1).Draw(t, "not")
		return bulletin.Condition{Not: &not}
	})
}

func TestABulletinIsReadAsItWasWritten(t *testing.T) {
	lower, upper := vehicle.Decimal{Coefficient: 10, Scale: 2}, vehicle.Decimal{Coefficient: 25, Scale: 2}
	rapid.Check(t, func(t *rapid.T) {
		when := conditions(3).Draw(t, "condition")
		b := bulletin.Bulletin{
			ID: "C-2026-02", Version: rapid.IntRange(1, maxVersion).Draw(t, "version"), Kind: bulletin.Campaign, State: bulletin.Issued,
			Title: "Bolts", Fault: "soft", Consequence: "they shear", Meanwhile: "do not tow", Caution: "chock it",
			HoldDelivery: rapid.Bool().Draw(t, "hold"), StopUse: rapid.Bool().Draw(t, "stop"),
			Set: bulletin.Set{Serials: []vehicle.Serial{"AM0147P"}, Except: []vehicle.Serial{"AM0120A"}, When: &when},
			Remedy: []bulletin.RemedyItem{{ID: "C1", Title: "Replace them", Parts: []bulletin.RemedyPart{{Position: "rear-propshaft", Part: "AP-1", Quantity: 4}},
				Tools: []string{"torque wrench"}, Caution: "hot", Minutes: 30, Measured: []schedule.MeasuredLimit{{Characteristic: "torque", Unit: "N.m", Lower: &lower, Upper: &upper}},
				Reinspection: bulletin.Reinspection{Days: 90, Distance: 804_672_000}}},
			Plan: bulletin.Plan{LetterDays: []int{0, 30}, RepeatDays: bulletin.NoRepeat}, Issued: vehicle.MustDate(2026, 3, 9), SupersededBy: "C-2026-05",
			WithdrawReason: "sound", Determined: vehicle.MustDate(2026, 3, 1), Reported: vehicle.MustDate(2026, 3, 5), Sample: true, SignedBy: "an engineer",
		}
		got, err := Bulletin(BulletinProto(&b))
		if diff := cmp.Diff(b, got); err != nil || diff != "" {
			t.Fatalf("%v\n%s", err, diff)
		}
	})
}

func TestAFollowUpIsReadAsItWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := bulletin.FollowUp{Serial: "AM0147P", Bulletin: "C-2026-02", Version: 2, Entered: vehicle.MustDate(2026, 3, 9),
			Because: []vehicle.Reason{{Rule: "SET_LISTED", Facts: []vehicle.Fact{{Name: "lot", Value: "L7"}}, Record: "bulletins/C-2026-02/versions/2", Sentence: "It is on the list."}}}
		for range rapid.IntRange(0, 4).Draw(t, "steps") {
			f.Steps = append(f.Steps, bulletin.Step{
				Kind: bulletin.StepKind(rapid.IntRange(1, 16).Draw(t, "kind")), Date: vehicle.MustDate(2026, 3, rapid.IntRange(1, 31).Draw(t, "day")),
				Evidence: "vehicles/AM0147P/serviceEntries/v1", Parts: []bulletin.PartUsed{{Part: "AP-1", Lot: "L9", Position: "gearbox", Quantity: 2}},
				Measured: []bulletin.Measurement{{Item: "C1", Characteristic: "torque", Value: vehicle.Quantity{Value: vehicle.Decimal{Coefficient: 450, Scale: 1}, Unit: "N.m"}}},
				Text:     rapid.String().Draw(t, "text"), Organisation: "ferncombe", RecordedBy: "drawing office", Recorded: time.Date(2026, 3, 9, 10, 0, 0, 1000, time.UTC),
			})
		}
		got, err := FollowUp(KeptFollowUp(&f))
		if diff := cmp.Diff(f, got); err != nil || diff != "" {
			t.Fatalf("%v\n%s", err, diff)
		}
	})
}

func TestEverythingWrongWithASetIsSaidAtOnceWithItsPlace(t *testing.T) {
	bad := &bulletinv1.BulletinSet{
		Serials: []string{"AM0147P", "AM0147X"},
		Condition: &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_All{All: &bulletinv1.SetConditions{Conditions: []*bulletinv1.SetCondition{
			{}, {Condition: &bulletinv1.SetCondition_Market{Market: &bulletinv1.TextSet{}}}, {Condition: &bulletinv1.SetCondition_Any{Any: &bulletinv1.SetConditions{}}}}}}},
	}
	_, err := Set(bad)
	var got []string
	for _, f := range fault.FieldsOf("", err) {
		got = append(got, f.Name)
	}
	want := []string{"set.serials[1]", "set.condition.all.conditions[0]", "set.condition.all.conditions[1].market.values", "set.condition.all.conditions[2].any.conditions"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	deep := &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_Option{Option: "winch"}}
	for range maxDepth + 1 {
		deep = &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_Not{Not: deep}}
	}
	if _, err := Set(&bulletinv1.BulletinSet{Condition: deep}); !fault.Is(err, fault.Invalid) {
		t.Errorf("conditions without an end: %v", err)
	}
}

func TestANameThatIsNoVersionsIsRefused(t *testing.T) {
	for _, name := range []string{"", "bulletins/C-1", "bulletins/C-1/versions/0", "bulletins/C-1/versions/01", "bulletins/C-1/versions/10000", "bulletins/C-1/versions/x", "bulletins//versions/1"} {
		if _, _, err := VersionName("name", name); !fault.Is(err, fault.Invalid) {
			t.Errorf("%q: %v", name, err)
		}
	}
	if id, n, err := VersionName("name", "bulletins/C-1/versions/-"); id != "C-1" || n != 0 || err != nil {
		t.Errorf("the one that holds: %s, %d, %v", id, n, err)
	}
}
