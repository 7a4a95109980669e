package schedulerpc_test

import (
	"fmt"
	"strings"
	"testing"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
)

// However many bytes a character takes, an entry of the size that is said is kept,
// may be struck out with as long a reason, and comes back from an import.
func TestTheLargestEntryIsKeptAndComesBack(t *testing.T) {
	var items []*schedulev1.Item
	e := &schedulev1.ServiceEntry{ServiceDate: calendar("2025-03-01")}
	long := strings.Repeat("🚙", 2000)
	for i := range 20 {
		id := fmt.Sprintf("E%02d", i+1)
		items = append(items, every(id, "3000", 12))
		e.Items = append(e.Items, &schedulev1.ItemDone{ItemId: id, Note: long})
	}
	w := start(t, "2024-03-01", items...)
	e.Note = long
	_, err := w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: e})
	if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); f.Fields[0].Name != "service_entry.items" || f.Fields[0].Want != "at most 160 KiB" {
		t.Errorf("got %v", f)
	}
	e.Note = ""
	kept := must(w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: e}))(t)
	kept = must(w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: kept.GetName(), Reason: long, Etag: kept.GetEtag()}))(t)
	if _, err := w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: kept.GetName(), Reason: long + "x"}); err == nil || !strings.Contains(err.Error(), "at most 2,000 characters") {
		t.Errorf("a reason of 2,001 characters: %v", err)
	}
	kept.Etag = ""
	got := must(w.bring("again", []*schedulev1.HistoryRow{{Row: &schedulev1.HistoryRow_ServiceEntry{ServiceEntry: kept}}}))(t)
	if got.GetUnchanged() != 1 || got.GetWritten() != 0 {
		t.Errorf("written %d, unchanged %d", got.GetWritten(), got.GetUnchanged())
	}
}
