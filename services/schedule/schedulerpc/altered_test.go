package schedulerpc_test

import (
	"strings"
	"testing"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
)

// Other tyres, another axle, another drive or another dial: whoever records it
// in the build service need tell the schedule nothing.
func TestAChangeOfTheRoadSpeedStartsItsChecksByItself(t *testing.T) {
	tyres := func(size, pattern string, mm int32) *buildv1.Change {
		return &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_TYRES, Tyre: &vehiclev1.Tyre{Size: size, Pattern: pattern, CircumferenceMm: mm}}
	}
	for _, c := range []struct {
		name    string
		change  *buildv1.Change
		event   string // the day of a recorded event, "" for none
		done    string // the day on which the check was done, "" for never
		begun   string // the day that the check is counted from, "" for nothing to do
		derived bool   // whether the reason names the change
	}{
		{name: "tyres of another size", change: tyres("7.50-16", "bar", 0), begun: "2026-05-01", derived: true},
		{name: "tyres of another pattern", change: tyres("265/75R16", "road", 0), begun: "2026-05-01", derived: true},
		{name: "the same tyres, measured", change: tyres("265/75R16", "mud-terrain", 2440)},
		{name: "an axle ratio", change: &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_AXLE_RATIO, AxleRatio: "4.70"}, begun: "2026-05-01", derived: true},
		{name: "an axle ratio that is what it was", change: &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_AXLE_RATIO, AxleRatio: "4.00"}},
		{name: "speedometer drive gears", change: &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_SPEEDOMETER_DRIVE,
			SpeedometerDrive: &vehiclev1.SpeedometerDrive{DriverTeeth: 11, DrivenTeeth: 20}}, begun: "2026-05-01", derived: true},
		{name: "a dial like the one before", change: &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_DIAL, DialStart: miles("0"),
			Dial: &vehiclev1.Dial{Digits: 5, Unit: "mi", TurnsPerUnit: 1302, Tenths: true}}, begun: "2026-05-01", derived: true},
		{name: "a component", change: &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, Component: &buildv1.Component{Position: "engine", Part: "AP-1000"}}},
		{name: "an event of that day tells of it", change: tyres("7.50-16", "bar", 0), event: "2026-05-01", begun: "2026-05-01"},
		{name: "an event two weeks later tells of it", change: tyres("7.50-16", "bar", 0), event: "2026-05-15", begun: "2026-05-15"},
		{name: "an event two weeks before tells of it", change: tyres("7.50-16", "bar", 0), event: "2026-04-17", begun: "2026-04-17"},
		{name: "an event of another month is another", change: tyres("7.50-16", "bar", 0), event: "2026-04-16", done: "2026-04-20", begun: "2026-05-01", derived: true},
		{name: "the check was done since", change: tyres("7.50-16", "bar", 0), done: "2026-05-10"},
	} {
		t.Run(c.name, func(t *testing.T) {
			check := &schedulev1.Item{ItemId: "K04", StartsOn: []*schedulev1.EventStart{{Event: schedulev1.EventKind_EVENT_KIND_ROAD_SPEED_CHANGE, WithinDays: 30}}}
			w := start(t, "2020-01-01", check, every("E01", "3000", 12))
			c.change.ChangeDate = calendar("2026-05-01")
			w.changed("AM0147P", c.change)
			if c.event != "" {
				must(w.RecordEvent(t.Context(), &schedulev1.RecordEventRequest{Parent: theVehicle, Event: &schedulev1.Event{
					Kind: schedulev1.EventKind_EVENT_KIND_ROAD_SPEED_CHANGE, EventDate: calendar(c.event)}}))(t)
			}
			if c.done != "" {
				w.done(c.done, "K04")
			}
			it := w.item("2026-05-20", "K04")
			if c.begun == "" {
				if it.GetState() != schedulev1.DueState_DUE_STATE_NOTHING_TO_DO {
					t.Errorf("got %s: %s", it.GetState(), it.GetSentence())
				}
				return
			}
			due := day(c.begun).AddDays(30).String()
			by := it.GetReasons()[1].GetRecord()
			if it.GetCycle() != "K04."+c.begun || iso(it.GetDueDate()) != due || strings.HasPrefix(by, "builds/AM0147P/changes/") != c.derived {
				t.Errorf("got round %s, due %s, by %q: %s", it.GetCycle(), iso(it.GetDueDate()), by, it.GetSentence())
			}
			// What had not happened yet starts nothing.
			if got := w.item("2026-04-10", "K04").GetState(); got != schedulev1.DueState_DUE_STATE_NOTHING_TO_DO {
				t.Errorf("on 10 April it was %s", got)
			}
		})
	}
}

// What the works changed by the day of the delivery is how it was handed over.
func TestAChangeByTheDayOfTheDeliveryStartsNothing(t *testing.T) {
	check := &schedulev1.Item{ItemId: "K04", StartsOn: []*schedulev1.EventStart{{Event: schedulev1.EventKind_EVENT_KIND_ROAD_SPEED_CHANGE, WithinDays: 30}}}
	w := start(t, "2020-01-01", check)
	w.changed("AM0147P", &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_AXLE_RATIO, AxleRatio: "4.70", ChangeDate: calendar("2020-01-01")})
	if got := w.item("2020-01-10", "K04"); got.GetState() != schedulev1.DueState_DUE_STATE_NOTHING_TO_DO {
		t.Errorf("got %s: %s", got.GetState(), got.GetSentence())
	}
	w.changed("AM0147P", &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_AXLE_RATIO, AxleRatio: "4.00", ChangeDate: calendar("2020-01-02")})
	if got := w.item("2020-01-10", "K04"); got.GetCycle() != "K04.2020-01-02" {
		t.Errorf("a day later: round %q", got.GetCycle())
	}
}
