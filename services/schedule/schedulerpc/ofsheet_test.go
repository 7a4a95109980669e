package schedulerpc_test

import (
	"testing"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
)

// Work that came back on a job sheet goes with all that came back there: only the
// program that carries sheets out strikes it out, and nobody else's word makes work
// that of a sheet or of a dealer.
func TestWorkOfAJobSheetIsStruckOutWithItsSheetAlone(t *testing.T) {
	w := start(t, "2024-01-01", every("E01", "3000", 12))
	entry := func() *schedulev1.ServiceEntry {
		return must(w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: &schedulev1.ServiceEntry{
			ServiceDate: calendar("2025-01-01"), Items: []*schedulev1.ItemDone{{ItemId: "E01"}}, JobSheet: theVehicle + "/jobSheets/4", Organisation: ferncombe,
		}}))(t)
	}
	w.byStaff()
	if plain := entry(); plain.GetJobSheet() != "" || plain.GetOrganisation() != "" {
		t.Errorf("by staff it is of sheet %q, organisation %q", plain.GetJobSheet(), plain.GetOrganisation())
	}
	program := func() { w.caller.Store(&access.Caller{Role: access.Service, Bearer: "ida", Credential: "process"}) }
	program()
	e := entry()
	if e.GetJobSheet() != theVehicle+"/jobSheets/4" || e.GetOrganisation() != ferncombe || e.GetRecordedBy() != "ida" {
		t.Errorf("by the program it is %v", e)
	}
	void := &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Etag: e.GetEtag(), Reason: "another vehicle"}
	for _, by := range []func(){w.byStaff, func() { w.byDealer(ferncombe, "ida") }} {
		by()
		_, err := w.VoidServiceEntry(t.Context(), void)
		refused(t, err, fault.FailedPrecondition, "SERVICE_ENTRY_OF_SHEET")
	}
	program()
	if struck := must(w.VoidServiceEntry(t.Context(), void))(t); struck.GetVoidedBy() != "ida" || struck.GetVoidReason() != "another vehicle" {
		t.Errorf("struck out: %v", struck)
	}
	w.byDealer(saltmarket, "tom")
	for _, m := range must(w.ListServiceEntries(t.Context(), &schedulev1.ListServiceEntriesRequest{Parent: theVehicle}))(t).GetServiceEntries() {
		if m.GetVoidedBy() != "" || m.GetOrganisation() != "" && m.GetRecordedBy() != "" {
			t.Errorf("another dealer reads that %q recorded and %q struck out", m.GetRecordedBy(), m.GetVoidedBy())
		}
	}
}
