package schedulerpc_test

import (
	"strings"
	"testing"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
)

// doneOn records work done on a vehicle, at what its odometer showed; "" for
// not read.
func (w *works) doneOn(serial, on, shown string, items ...string) *schedulev1.ServiceEntry {
	w.t.Helper()
	e := &schedulev1.ServiceEntry{ServiceDate: calendar(on)}
	if shown != "" {
		e.Reading = miles(shown)
	}
	for _, id := range items {
		e.Items = append(e.Items, &schedulev1.ItemDone{ItemId: id})
	}
	return must(w.RecordService(w.t.Context(), &schedulev1.RecordServiceRequest{Parent: "vehicles/" + serial, ServiceEntry: e}))(w.t)
}

// statusOf gives an item of a vehicle on a day.
func (w *works) statusOf(serial, on, id string) *schedulev1.ItemStatus {
	w.t.Helper()
	x := must(w.GetSchedule(w.t.Context(), &schedulev1.GetScheduleRequest{Name: "vehicles/" + serial + "/schedule", OnDate: calendar(on)}))(w.t)
	for _, it := range x.GetItems() {
		if it.GetItemId() == id {
			return it
		}
	}
	w.t.Fatalf("no item %s on %s", id, serial)
	return nil
}

// wantStatus compares the day on which the time is over, the day and the vehicle
// of the last work, and what the reasons say of it.
func wantStatus(t *testing.T, it *schedulev1.ItemStatus, due, last, entry, says string) {
	t.Helper()
	if iso(it.GetTimeDueDate()) != due || iso(it.GetLastDoneDate()) != last || !strings.HasPrefix(it.GetLastDoneEntry(), entry) {
		t.Errorf("%s by time due %s, last done %s by %s; want %s, %s, %s", it.GetItemId(), iso(it.GetTimeDueDate()),
			iso(it.GetLastDoneDate()), it.GetLastDoneEntry(), due, last, entry)
	}
	if got := it.GetReasons()[1].GetSentence(); !strings.Contains(got, says) {
		t.Errorf("%s: it says %q, want %q", it.GetItemId(), got, says)
	}
}

// twoBoxes are two vehicles driven 1,000 miles a year whose transfer cases are
// looked after; the other's odometer counts five miles for four.
func twoBoxes(t *testing.T) *works {
	level, oil := every("T01L", "500", 6), every("T01", "12000", 24)
	level.Position, oil.Position, oil.Resets = "transfer-case", "transfer-case", []string{"T01L"}
	w := start(t, "2020-01-01", level, oil, every("E01", "3000", 12))
	other := built("AM01058", "2020-01-01")
	other.AxleRatio = "5.00"
	must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: other}))(t)
	w.readOf("AM01058", "2026-01-01", "7500") // 6,000 true
	w.readOf("AM0147P", "2026-01-01", "6000")
	return w
}

func (w *works) moveBox(from, to, on string) {
	w.t.Helper()
	must(w.builds.MoveComponent(w.t.Context(), &buildv1.MoveComponentRequest{Source: "builds/" + from, Destination: "builds/" + to,
		SourcePosition: "transfer-case", MoveDate: calendar(on), Reason: "exchange"}))(w.t)
}

func TestAMovedUnitIsDueByWhatWasDoneToIt(t *testing.T) {
	w := twoBoxes(t)
	w.done("2025-12-23", "T01L", "E01") // on the unit that leaves
	w.doneOn("AM01058", "2025-07-02", "6875", "T01")
	w.doneOn("AM01058", "2026-01-20", "", "T01L", "E01")
	w.moveBox("AM01058", "AM0147P", "2026-03-01")
	const from = "AM01058/serviceEntries/"
	wantStatus(t, w.statusOf("AM0147P", "2026-03-02", "T01L"), "2026-07-20", "2026-01-20", "vehicles/"+from,
		"It was last done on 20 January 2026, when the unit stood in AM01058. The unit came here on 1 March 2026 from AM01058.")
	wantStatus(t, w.statusOf("AM0147P", "2026-03-02", "T01"), "2027-07-02", "2025-07-02", "vehicles/"+from, "when the unit stood in AM01058")
	wantStatus(t, w.statusOf("AM0147P", "2026-03-02", "E01"), "2026-12-23", "2025-12-23", theVehicle, "It was last done on 23 December 2025.")
	// On the day before it was another unit, with a record of its own.
	wantStatus(t, w.statusOf("AM0147P", "2026-02-28", "T01L"), "2026-06-23", "2025-12-23", theVehicle, "It was last done on 23 December 2025.")
	// Five hundred true miles of the oil's were over when it came: 6,875 to 7,500
	// on the dial, and what it went in January and February.
	oil := w.statusOf("AM0147P", "2026-03-02", "T01")
	if since := oil.GetDistanceSince().GetMillimetres() / 1_609_344; since < 640 || since > 690 {
		t.Errorf("%d miles since the oil was changed, want some 665", since)
	}
	// Work done here since then counts as ever.
	w.done("2026-04-01", "T01L")
	wantStatus(t, w.statusOf("AM0147P", "2026-04-02", "T01L"), "2026-10-01", "2026-04-01", theVehicle, "It was last done on 1 April 2026.")
}

// The record of the other vehicle goes on: an entry that comes late, and one
// that is struck out, count at once on the vehicle that has the unit.
func TestTheRecordOfTheOtherVehicleIsNotRememberedButAsked(t *testing.T) {
	w := twoBoxes(t)
	w.moveBox("AM01058", "AM0147P", "2026-03-01")
	wantStatus(t, w.statusOf("AM0147P", "2026-03-02", "T01L"), "2020-07-01", "", "",
		"The unit came here on 1 March 2026 from AM01058, where no such work on it is on record.")
	due := func() string {
		list := must(w.ListDue(t.Context(), &schedulev1.ListDueRequest{OnDate: calendar("2026-03-02"), WithinDays: 3000}))(t)
		for _, x := range list.GetSchedules() {
			for _, it := range x.GetItems() {
				if it.GetItemId() == "T01L" && x.GetName() == theVehicle+"/schedule" {
					return iso(it.GetDueDate())
				}
			}
		}
		return "none"
	}
	if got := due(); got != "2020-07-01" && got != "2026-03-01" {
		t.Errorf("in the list it is due %s", got)
	}
	e := w.doneOn("AM01058", "2026-02-01", "", "T01L")
	wantStatus(t, w.statusOf("AM0147P", "2026-03-02", "T01L"), "2026-08-01", "2026-02-01", "vehicles/AM01058", "when the unit stood in AM01058")
	if got := due(); got != "2026-08-01" {
		t.Errorf("in the list it is due %s after the entry, want 2026-08-01", got)
	}
	// Work done there after it left, or on the day, was done to another unit.
	w.doneOn("AM01058", "2026-03-01", "", "T01L")
	wantStatus(t, w.statusOf("AM0147P", "2026-03-02", "T01L"), "2026-08-01", "2026-02-01", "vehicles/AM01058", "when the unit stood in AM01058")
	must(w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Reason: "another vehicle", Etag: e.GetEtag()}))(t)
	wantStatus(t, w.statusOf("AM0147P", "2026-03-02", "T01L"), "2020-07-01", "", "", "no such work on it is on record")
}

// There and back, and on again: the work of every stay counts.
func TestAUnitThatComesBackBringsAllThatWasDoneToIt(t *testing.T) {
	w := twoBoxes(t)
	w.done("2025-12-23", "T01L")
	w.moveBox("AM0147P", "AM01058", "2026-01-10")
	w.done("2026-01-15", "E01")
	w.moveBox("AM01058", "AM0147P", "2026-02-01")
	wantStatus(t, w.statusOf("AM0147P", "2026-02-02", "T01L"), "2026-06-23", "2025-12-23", theVehicle,
		"It was last done on 23 December 2025, when the unit stood in AM0147P. The unit came here on 1 February 2026 from AM01058.")
}
