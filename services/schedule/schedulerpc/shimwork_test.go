package schedulerpc_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
)

// shimmed is a vehicle whose output shaft is checked as in tasks.md T02, the
// distances aside: first 6 months after new bearings or any re-shim, then every
// 24 months.
func shimmed(t *testing.T) *works {
	t.Helper()
	check := every("T02", "", 24)
	check.Position = "output-shaft-bearing"
	check.First = &schedulev1.Limit{Months: 6}
	check.FirstFrom = schedulev1.CountedFrom_COUNTED_FROM_FITTING
	check.Measured = []*schedulev1.MeasuredLimit{{Characteristic: "end-float", Unit: "mm", Lower: "0.05", Upper: "0.15"}}
	return start(t, "2024-03-01", check)
}

func shimWork() *schedulev1.ShimWork {
	return &schedulev1.ShimWork{
		Position: "output-shaft-bearing", Characteristic: "end-float", MeasuredBefore: quantity("0.15 mm"), PackBefore: quantity("0.76 mm"),
		Shims:         []*schedulev1.ShimUsed{{Thickness: quantity("0.51 mm"), Part: "AP-2074"}, {Thickness: quantity("0.08 mm"), Count: 2}},
		MeasuredAfter: quantity("0.06 mm"),
	}
}

func withShims(on string, work ...*schedulev1.ShimWork) *schedulev1.ServiceEntry {
	return &schedulev1.ServiceEntry{ServiceDate: calendar(on), Items: []*schedulev1.ItemDone{{ItemId: "T02", Shims: work}}}
}

func TestAServiceEntryKeepsWhatWasDoneWithShims(t *testing.T) {
	w := shimmed(t)
	request := &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: withShims("2025-02-03", shimWork()), RequestId: uuid.NewString()}
	sent := proto.CloneOf(request)
	must(w.RecordService(t.Context(), request))(t)
	must(w.RecordService(t.Context(), sent))(t) // the same once more is the same entry
	all := must(w.ListServiceEntries(t.Context(), &schedulev1.ListServiceEntriesRequest{Parent: theVehicle}))(t).GetServiceEntries()
	if len(all) != 1 {
		t.Fatalf("%d entries", len(all))
	}
	want := shimWork()
	want.Pack, want.Shims[0].Count = quantity("0.67 mm"), 0 // 0.51 and twice 0.08; a count of 0 is kept, and counts as 1
	if diff := cmp.Diff([]*schedulev1.ShimWork{want}, all[0].GetItems()[0].GetShims(), protocmp.Transform()); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

func TestWhatIsWrongWithShimWorkIsSaidFieldByField(t *testing.T) {
	w := shimmed(t)
	for title, c := range map[string]struct {
		change func(*schedulev1.ShimWork)
		field  string
		want   string
	}{
		"a pack that is not the sum": {func(s *schedulev1.ShimWork) { s.Pack = quantity("0.59 mm") }, "pack", "the sum of the shims, 0.67 mm"},
		"a load for a float": {func(s *schedulev1.ShimWork) { s.MeasuredBefore, s.MeasuredAfter = nil, quantity("6 kgf") },
			"measured_after", "a value in mm, as T02 measures it"},
		"another kind after than before": {func(s *schedulev1.ShimWork) { s.MeasuredAfter = quantity("6 kgf") },
			"measured_after", "a value that can be held against the one before, 0.15 mm"},
		"a count below nothing":            {func(s *schedulev1.ShimWork) { s.Shims[1].Count = -2 }, "shims[1].count", "1 to 100"},
		"no number":                        {func(s *schedulev1.ShimWork) { s.PackBefore.Value = "0,76" }, "pack_before", "digits"},
		"a place that the vehicle has not": {func(s *schedulev1.ShimWork) { s.Position = "output-shaft-baring" }, "position", "as in output-shaft-bearing"},
	} {
		work := shimWork()
		c.change(work)
		_, err := w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: withShims("2025-02-03", work)})
		f := refused(t, err, fault.Invalid, "INVALID_FIELD")
		if len(f.Fields) != 1 || f.Fields[0].Name != "service_entry.items[0].shims[0]."+c.field || !strings.Contains(f.Fields[0].Want, c.want) {
			t.Errorf("%s: %v, want %s: %s", title, f, c.field, c.want)
		}
	}
	_, err := w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: withShims("2025-02-03", shimWork(), shimWork())})
	if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); f.Fields[0].Name != "service_entry.items[0].shims[1].position" || f.Fields[0].Want != "each joint once" {
		t.Errorf("twice the same: %v", f)
	}
}

func TestShimWorkGoesWithAPlaceOnAComponentToo(t *testing.T) {
	w := shimmed(t)
	work := shimWork()
	work.Position = "output-shaft-bearing-front"
	must(w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: withShims("2025-02-03", work)}))(t)
}

// A re-shim starts the first check anew (tasks.md T02) by the overhaul that the
// build service keeps, and by that alone.
func TestTheFirstCheckAfterAReshimIsCountedFromTheOverhaul(t *testing.T) {
	w := shimmed(t)
	w.done("2024-09-01", "T02")
	must(w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: withShims("2025-02-03", shimWork())}))(t)
	if it := w.item("2025-03-01", "T02"); iso(it.GetDueDate()) != "2027-02-03" {
		t.Errorf("by the entry alone: due %s, want 2027-02-03, 24 months on", iso(it.GetDueDate()))
	}
	must(w.builds.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/AM0147P", Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_OVERHAUL, Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, ChangeDate: calendar("2025-02-03"),
		Component: &buildv1.Component{Position: "output-shaft-bearing"}, Reason: "re-shimmed",
	}}))(t)
	if it := w.item("2025-03-01", "T02"); iso(it.GetDueDate()) != "2025-08-03" {
		t.Errorf("after the overhaul: due %s, want 2025-08-03, six months on", iso(it.GetDueDate()))
	}
}

func TestShimWorkIsImportedUnderTheSameRules(t *testing.T) {
	w := empty(t)
	entry := withShims("2025-02-03", shimWork())
	entry.Name, entry.Items[0].ItemId = theVehicle+"/serviceEntries/s9", "E01"
	rows := append(history(), &schedulev1.HistoryRow{Row: &schedulev1.HistoryRow_ServiceEntry{ServiceEntry: entry}})
	wrong := proto.CloneOf(entry)
	wrong.Items[0].Shims[0].Pack = quantity("0.59 mm")
	_, err := w.bring("wrong", append(history(), &schedulev1.HistoryRow{Row: &schedulev1.HistoryRow_ServiceEntry{ServiceEntry: wrong}}))
	f := refused(t, err, fault.Invalid, "INVALID_FIELD")
	if !slices.ContainsFunc(f.Fields, func(f fault.Field) bool { return strings.HasSuffix(f.Name, "service_entry.items[0].shims[0].pack") }) {
		t.Errorf("a pack that is not the sum: %v", f)
	}
	must(w.bring("right", rows))(t)
	all := must(w.ListServiceEntries(t.Context(), &schedulev1.ListServiceEntriesRequest{Parent: theVehicle}))(t).GetServiceEntries()
	for _, e := range all {
		if e.GetName() == entry.GetName() {
			// As it came: a second import of the same file finds nothing changed.
			if diff := cmp.Diff(entry.GetItems(), e.GetItems(), protocmp.Transform()); diff != "" {
				t.Errorf("(-sent +kept)\n%s", diff)
			}
			return
		}
	}
	t.Errorf("not in %v", all)
}
