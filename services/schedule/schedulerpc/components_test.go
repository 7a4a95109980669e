package schedulerpc_test

import (
	"testing"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle"
)

// gone is how far the component at a position has gone by a day.
func (w *works) gone(serial, position, on string) *schedulev1.ComponentDistance {
	w.t.Helper()
	answer := must(w.ListComponentDistances(w.t.Context(), &schedulev1.ListComponentDistancesRequest{
		Parent: "vehicles/" + serial, OnDate: calendar(on)}))(w.t)
	for _, c := range answer.GetComponentDistances() {
		if c.GetPosition() == position {
			return c
		}
	}
	w.t.Fatalf("nothing at the %s of %s", position, serial)
	return nil
}

// readOf records a reading of another vehicle than the usual one.
func (w *works) readOf(serial, on, mi string) {
	w.t.Helper()
	must(w.RecordReading(w.t.Context(), &schedulev1.RecordReadingRequest{Parent: "vehicles/" + serial, Reading: &schedulev1.Reading{
		ReadingDate: calendar(on), Value: miles(mi), Source: schedulev1.ReadingSource_READING_SOURCE_WORKS}}))(w.t)
}

// changed records a change of a vehicle.
func (w *works) changed(serial string, c *buildv1.Change) {
	w.t.Helper()
	c.Source, c.Reason = buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, "test"
	must(w.builds.RecordChange(w.t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/" + serial, Change: c}))(w.t)
}

// wantGone compares miles here, miles before, days here and days before.
func wantGone(t *testing.T, c *schedulev1.ComponentDistance, here, before int64, days, priorDays int32, from string) {
	t.Helper()
	mi := func(d *vehiclev1.Distance) int64 { return vehicle.Distance(d.GetMillimetres()).Whole(vehicle.Miles) }
	if mi(c.GetDistance()) != here || mi(c.GetPriorDistance()) != before || mi(c.GetTotalDistance()) != here+before ||
		c.GetDays() != days || c.GetPriorDays() != priorDays || c.GetCameFrom() != from {
		t.Errorf("%s: %d miles in %d days here, %d in %d days before, from %q; want %d in %d, %d in %d, from %q", c.GetName(),
			mi(c.GetDistance()), c.GetDays(), mi(c.GetPriorDistance()), c.GetPriorDays(), c.GetCameFrom(), here, days, before, priorDays, from)
	}
}

// The other vehicle has an axle of 5.00 to 1 and the speedometer gears of 4.00
// to 1: its odometer counts five miles for four, and what is carried is true
// distance.
func TestAMovedComponentCarriesItsDistance(t *testing.T) {
	w := start(t, "2020-01-01", every("E01", "3000", 12))
	other := built("AM01058", "2020-01-01")
	other.AxleRatio = "5.00"
	must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: other}))(t)
	w.changed("AM01058", &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, ChangeDate: calendar("2020-01-01"),
		Component: &buildv1.Component{Position: "transfer-case", Part: "AP-1200", Serial: "TC-9", PriorDistance: miles("700")}})
	for _, r := range [][3]string{
		{"2021-01-01", "1250", "1000"}, {"2022-01-01", "2500", "2000"}, {"2022-07-02", "3000", "2400"}, {"2023-01-01", "3750", "3000"},
	} {
		w.readOf("AM01058", r[0], r[1])
		w.readOf("AM0147P", r[0], r[2])
	}
	move := func(from, to, day string, covered *vehiclev1.Distance) {
		must(w.builds.MoveComponent(t.Context(), &buildv1.MoveComponentRequest{Source: "builds/" + from, Destination: "builds/" + to,
			SourcePosition: "transfer-case", MoveDate: calendar(day), ComponentDistance: covered, Reason: "exchange"}))(t)
	}
	wantGone(t, w.gone("AM01058", "transfer-case", "2022-01-01"), 2000, 700, 731, 0, "")
	move("AM01058", "AM0147P", "2022-01-01", nil)
	// It went 2,000 miles there, and 1,000 here since.
	c := w.gone("AM0147P", "transfer-case", "2023-01-01")
	wantGone(t, c, 1000, 2700, 365, 731, "vehicles/AM01058")
	if want := "1,000 miles since it was fitted on 1 January 2022, and 2,700 miles before that, when it came from AM01058: 3,700 miles in all."; c.GetSentence() != want {
		t.Errorf("said: %s\nwant: %s", c.GetSentence(), want)
	}
	wantGone(t, w.gone("AM0147P", "engine", "2023-01-01"), 3000, 0, 1096, 0, "") // of the vehicle itself, for as long as that
	// Back again, and on: both vehicles go on, and so does the count.
	move("AM0147P", "AM01058", "2023-01-01", nil)
	w.readOf("AM01058", "2024-01-01", "5625")
	wantGone(t, w.gone("AM01058", "transfer-case", "2024-01-01"), 1500, 3700, 365, 1096, "vehicles/AM0147P")
	// As it was on an earlier day it still is.
	wantGone(t, w.gone("AM0147P", "transfer-case", "2022-07-02"), 400, 2700, 182, 731, "vehicles/AM01058")
	// What somebody read off a record at the move outranks what is worked out.
	move("AM01058", "AM0147P", "2024-01-01", miles("9000"))
	wantGone(t, w.gone("AM0147P", "transfer-case", "2024-01-01"), 0, 9000, 0, 1461, "vehicles/AM01058")
}

func TestWhatTheDialShowedAtAFittingIsBelievedWhereTheReadingsBearItOut(t *testing.T) {
	w := start(t, "2020-01-01", every("E01", "3000", 12))
	w.read("2022-01-01", "2000")
	fit := func(day, shown string) {
		w.changed("AM0147P", &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, ChangeDate: calendar(day), Reading: miles(shown),
			Component: &buildv1.Component{Position: "engine", Part: "AP-1000"}})
	}
	fit("2021-01-01", "1700") // most of it was driven in the first year
	wantGone(t, w.gone("AM0147P", "engine", "2022-01-01"), 300, 0, 365, 0, "")
	fit("2021-01-02", "7100") // no: the dial showed 2,000 a year later
	wantGone(t, w.gone("AM0147P", "engine", "2022-01-01"), 996, 0, 364, 0, "")
}

func TestAnOverhaulIsCountedFromByItself(t *testing.T) {
	w := start(t, "2020-01-01", every("E01", "3000", 12))
	w.changed("AM0147P", &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_OVERHAUL, ChangeDate: calendar("2021-01-01"), Reading: miles("1200"),
		Component: &buildv1.Component{Position: "transfer-case"}})
	w.read("2022-01-01", "2000")
	c := w.gone("AM0147P", "transfer-case", "2022-01-01")
	wantGone(t, c, 2000, 0, 731, 0, "")
	if iso(c.GetOverhaulDate()) != "2021-01-01" || c.GetDistanceSinceOverhaul().GetMillimetres() != 800*int64(vehicle.Mile) {
		t.Errorf("overhauled %s, %d mm ago; want 2021-01-01 and 800 miles", iso(c.GetOverhaulDate()), c.GetDistanceSinceOverhaul().GetMillimetres())
	}
	if c = w.gone("AM0147P", "transfer-case", "2020-12-31"); c.GetOverhaulDate() != nil {
		t.Errorf("on the day before it was overhauled already: %v", c)
	}
}

func TestComponentsAreGivenInPagesByPosition(t *testing.T) {
	w := start(t, "2020-01-01", every("E01", "3000", 12))
	r := &schedulev1.ListComponentDistancesRequest{Parent: theVehicle, PageSize: 2}
	first := must(w.ListComponentDistances(t.Context(), r))(t)
	r.PageToken = first.GetNextPageToken()
	second := must(w.ListComponentDistances(t.Context(), r))(t)
	got := ""
	for _, c := range append(first.GetComponentDistances(), second.GetComponentDistances()...) {
		got += c.GetPosition() + " "
	}
	if want := "engine output-shaft-bearing transfer-case "; got != want || second.GetNextPageToken() != "" {
		t.Errorf("got %q, want %q", got, want)
	}
}
