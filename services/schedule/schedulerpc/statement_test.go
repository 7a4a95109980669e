package schedulerpc_test

import (
	"testing"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
)

// byOwner makes the calls from here on an owner's.
func (w *works) byOwner() {
	w.caller.Store(&access.Caller{Role: access.Owner, Bearer: "owner, by a link", Person: "people/p0031"})
}

func (w *works) byStaff() {
	w.caller.Store(&access.Caller{Role: access.Support, Bearer: "front desk"})
}

func TestAnOwnerStatesWorkAndTakesItBack(t *testing.T) {
	float := every("T02", "", 24)
	float.Measured = []*schedulev1.MeasuredLimit{{Characteristic: "end-float", Unit: "mm", Lower: "0.05", Upper: "0.15", Action: "0.20"}}
	w := start(t, "2024-01-01", every("E01", "3000", 12), float)
	w.byOwner()
	e := must(w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: calendar("2025-01-01"), Reading: miles("1000"), DoneBy: "the village workshop", Note: "with my own oil",
		Items: []*schedulev1.ItemDone{{ItemId: "E01"}, {ItemId: "T02", Measured: []*schedulev1.MeasuredValue{
			{Characteristic: "end-float", Value: &vehiclev1.Quantity{Value: "0.12", Unit: "mm"}}}}},
	}}))(t)
	if !e.GetOwnerStatement() || e.GetDoneBy() != "the village workshop" || e.GetNote() == "" {
		t.Errorf("recorded %v", e)
	}
	readings := must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t).GetReadings()
	if len(readings) != 1 || readings[0].GetSource() != schedulev1.ReadingSource_READING_SOURCE_OWNER {
		t.Errorf("readings %v, want the owner's", readings)
	}
	if got := w.item("2025-02-01", "E01"); iso(got.GetDueDate()) != "2026-01-01" {
		t.Errorf("it does not count: due %s", iso(got.GetDueDate()))
	}
	struck := must(w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Etag: e.GetEtag(), Reason: "a slip"}))(t)
	if struck.GetVoidReason() != "a slip" || !struck.GetOwnerStatement() {
		t.Errorf("struck out: %v", struck)
	}
}

func TestAnOwnerStrikesOutNothingOfTheWorks(t *testing.T) {
	w := start(t, "2024-01-01", every("E01", "3000", 12))
	// Whatever is asked for, only an owner makes a statement.
	e := must(w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: calendar("2025-01-01"), Items: []*schedulev1.ItemDone{{ItemId: "E01"}}, OwnerStatement: true}}))(t)
	if e.GetOwnerStatement() {
		t.Error("staff made an owner's statement")
	}
	w.byOwner()
	// A wrong etag tells nothing either.
	for _, etag := range []string{e.GetEtag(), "1"} {
		_, err := w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Etag: etag, Reason: "no"})
		refused(t, err, fault.NotFound, "SERVICE_ENTRY_NOT_FOUND")
	}
	_, err := w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: theVehicle + "/serviceEntries/nothing", Etag: e.GetEtag(), Reason: "no"})
	refused(t, err, fault.NotFound, "SERVICE_ENTRY_NOT_FOUND")
	w.byStaff()
	must(w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Etag: e.GetEtag(), Reason: "another vehicle"}))(t)
}

func TestAStatementHoldsNeitherPartsNorShims(t *testing.T) {
	w := start(t, "2024-01-01", every("E01", "3000", 12))
	w.byOwner()
	for field, e := range map[string]*schedulev1.ServiceEntry{
		"service_entry.parts": {Items: []*schedulev1.ItemDone{{ItemId: "E01"}}, Parts: []*schedulev1.PartUsed{{Part: "AP-2001", Quantity: 1}}},
		"service_entry.items[0].shims": {Items: []*schedulev1.ItemDone{{ItemId: "E01", Shims: []*schedulev1.ShimWork{
			{Position: "output-shaft-bearing", Characteristic: "end-float", Pack: &vehiclev1.Quantity{Value: "0.5", Unit: "mm"}}}}}},
	} {
		_, err := w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: e})
		f := rpcerr.FromStatus(err)
		if f == nil || f.Kind != fault.Invalid || f.Fields[0].Name != field {
			t.Errorf("%s: %v", field, err)
		}
	}
}

func TestAReadingKeepsThePhotographOfItsDial(t *testing.T) {
	w := start(t, "2024-01-01", every("E01", "3000", 12))
	record := func(on, value, photograph string) (*schedulev1.Reading, error) {
		return w.RecordReading(t.Context(), &schedulev1.RecordReadingRequest{Parent: theVehicle, Reading: &schedulev1.Reading{
			ReadingDate: calendar(on), Value: miles(value), Photograph: photograph}})
	}
	w.byOwner()
	for _, other := range []string{"people/p0099/documents/5f2c", "people/p0031/5f2c", "a/b", "people/p0031/documents/", "people/p0031/documents/a b"} {
		_, err := record("2025-01-01", "900", other)
		if f := rpcerr.FromStatus(err); f == nil || f.Kind != fault.Invalid || f.Fields[0].Name != "reading.photograph" {
			t.Errorf("%s: %v", other, err)
		}
	}
	must(record("2025-01-01", "900", "people/p0031/documents/5f2c"))(t)
	w.byStaff()
	must(record("2025-02-01", "950", "people/p0099/documents/77aa"))(t) // sent in by post
	all := must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t).GetReadings()
	if len(all) != 2 || all[0].GetPhotograph() != "people/p0031/documents/5f2c" || all[1].GetPhotograph() != "people/p0099/documents/77aa" {
		t.Errorf("readings %v", all)
	}
}
