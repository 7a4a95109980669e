package schedulerpc_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

// history is a small one, as a spreadsheet would bring it.
func history() []*schedulev1.HistoryRow {
	reading := func(id, on, mi string) *schedulev1.HistoryRow {
		return &schedulev1.HistoryRow{Row: &schedulev1.HistoryRow_Reading{Reading: &schedulev1.Reading{
			Name: theVehicle + "/readings/" + id, ReadingDate: calendar(on), Value: miles(mi)}}}
	}
	return []*schedulev1.HistoryRow{
		{Row: &schedulev1.HistoryRow_ServiceEntry{ServiceEntry: &schedulev1.ServiceEntry{
			Name: theVehicle + "/serviceEntries/s1", ServiceDate: calendar("2025-03-01"), Reading: miles("900"),
			Items: []*schedulev1.ItemDone{{ItemId: "E01"}}, DoneBy: "Harbour Garage"}}},
		reading("r1", "2024-09-01", "500"), reading("r2", "2025-09-01", "1400"),
		{Row: &schedulev1.HistoryRow_Programme{Programme: programme(1, "2000-01-01", every("E01", "3000", 12))}},
		{Row: &schedulev1.HistoryRow_Event{Event: &schedulev1.Event{
			Name: theVehicle + "/events/e1", Kind: schedulev1.EventKind_EVENT_KIND_WADING, EventDate: calendar("2025-05-01")}}},
		{Row: &schedulev1.HistoryRow_UseFact{UseFact: &schedulev1.UseFact{
			Name: theVehicle + "/useFacts/u1", Kind: schedulev1.UseKind_USE_KIND_SALT_COAST, StartDate: calendar("2020-01-01")}}},
	}
}

// bring imports rows, a few in each chunk.
func (w *works) bring(id string, rows []*schedulev1.HistoryRow) (*schedulev1.CommitImportResponse, error) {
	chunks := int32(0)
	for len(rows) > 0 {
		n := min(2, len(rows))
		if _, err := w.StageImport(w.t.Context(), &schedulev1.StageImportRequest{ImportId: id, Sequence: chunks, Rows: rows[:n]}); err != nil {
			return nil, err
		}
		rows, chunks = rows[n:], chunks+1
	}
	return w.CommitImport(w.t.Context(), &schedulev1.CommitImportRequest{ImportId: id, Chunks: chunks})
}

// empty has a vehicle and no programme.
func empty(t *testing.T) *works {
	w := open(t, kv.NewStore(etcdtest.Client(t)))
	must(w.builds.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: release()}))(t)
	must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: built("AM0147P", "2024-03-01")}))(t)
	return w
}

func TestAnImportTakesEffectAsAWholeAndOnlyOnce(t *testing.T) {
	w := empty(t)
	got := must(w.bring("first", history()))(t)
	if got.GetWritten() != 6 || got.GetUnchanged() != 0 {
		t.Errorf("written %d, unchanged %d", got.GetWritten(), got.GetUnchanged())
	}
	oil := w.item("2025-10-01", "E01")
	if iso(oil.GetDueDate()) != "2026-03-01" || oil.GetLastDoneEntry() != theVehicle+"/serviceEntries/s1" {
		t.Errorf("oil: %v", oil)
	}
	readings := must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t)
	if len(readings.GetReadings()) != 3 { // two rows, and the one of the service
		t.Errorf("readings %v", readings)
	}
	if again := must(w.bring("second", history()))(t); again.GetWritten() != 0 || again.GetUnchanged() != 6 {
		t.Errorf("again: written %d, unchanged %d", again.GetWritten(), again.GetUnchanged())
	}
	if after := must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t); !proto.Equal(readings, after) {
		t.Errorf("importing again changed the readings: %v", after)
	}
}

func TestWhatWasExportedComesBackAsItWas(t *testing.T) {
	w := empty(t)
	must(w.bring("first", history()))(t)
	r := must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t).GetReadings()[1]
	must(w.SettleReading(t.Context(), &schedulev1.SettleReadingRequest{Name: r.GetName(), Etag: r.GetEtag(),
		Settlement: &schedulev1.Settlement{Verdict: schedulev1.Verdict_VERDICT_AS_READ, Reason: "seen"}}))(t)
	export := func(w *works) (rows []*schedulev1.HistoryRow) {
		for _, m := range must(w.ListServiceEntries(t.Context(), &schedulev1.ListServiceEntriesRequest{Parent: theVehicle}))(t).GetServiceEntries() {
			m.Etag = ""
			rows = append(rows, &schedulev1.HistoryRow{Row: &schedulev1.HistoryRow_ServiceEntry{ServiceEntry: m}})
		}
		for _, m := range must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t).GetReadings() {
			m.Etag = ""
			rows = append(rows, &schedulev1.HistoryRow{Row: &schedulev1.HistoryRow_Reading{Reading: m}})
		}
		p := must(w.GetProgramme(t.Context(), &schedulev1.GetProgrammeRequest{Name: "programmes/packhorse"}))(t)
		p.Etag = ""
		return append(rows, &schedulev1.HistoryRow{Row: &schedulev1.HistoryRow_Programme{Programme: p}})
	}
	out := export(w)
	other := empty(t)
	other.today("2031-01-01")
	must(other.bring("moved", out))(t)
	back := export(other)
	for i := range out {
		if !proto.Equal(out[i], back[i]) {
			t.Errorf("out  %v\nback %v", out[i], back[i])
		}
	}
}

func TestAnImportThatDiffersOrRefersToNothingIsRefusedWhole(t *testing.T) {
	w := empty(t)
	must(w.bring("first", history()))(t)
	rows := history()
	rows[1].GetReading().Value = miles("501")
	rows[0].GetServiceEntry().Name = theVehicle + "/serviceEntries/s2"
	rows[0].GetServiceEntry().Items[0].ItemId = "X99"
	_, err := w.bring("second", rows)
	f := refused(t, err, fault.Invalid, "INVALID_FIELD")
	if len(f.Fields) != 2 || !strings.HasPrefix(f.Fields[0].Name, "rows["+theVehicle+"/readings/r1]") ||
		!strings.HasPrefix(f.Fields[1].Name, "rows["+theVehicle+"/serviceEntries/s2].service_entry.items[0].item_id") {
		t.Errorf("got %v", f.Fields)
	}
	if n := len(must(w.ListServiceEntries(t.Context(), &schedulev1.ListServiceEntriesRequest{Parent: theVehicle}))(t).GetServiceEntries()); n != 1 {
		t.Errorf("%d entries after a refused import, want 1", n)
	}
}

func TestARowThatIsWrongByItselfIsRefusedWhenItIsStaged(t *testing.T) {
	w := empty(t)
	rows := history()[:3]
	rows[1].GetReading().ReadingDate = nil
	rows[2].GetReading().Name = "vehicles/AM0147Q/readings/r2"
	_, err := w.StageImport(t.Context(), &schedulev1.StageImportRequest{ImportId: "x", Rows: rows})
	f := refused(t, err, fault.Invalid, "INVALID_FIELD")
	if len(f.Fields) != 2 || !strings.Contains(fmt.Sprint(f.Fields), "readings/r1].reading.reading_date") {
		t.Errorf("got %v", f.Fields)
	}
	for name, strike := range map[string]func(*schedulev1.ServiceEntry){
		"when, and not why":    func(m *schedulev1.ServiceEntry) { m.VoidTime = timestamppb.Now() },
		"by whom, and not why": func(m *schedulev1.ServiceEntry) { m.VoidedBy = "people/ida" },
		"a book":               func(m *schedulev1.ServiceEntry) { m.VoidReason = strings.Repeat("x", 2_001) },
	} {
		rows := history()
		entry := slices.IndexFunc(rows, func(r *schedulev1.HistoryRow) bool { return r.GetServiceEntry() != nil })
		strike(rows[entry].GetServiceEntry())
		_, err := w.StageImport(t.Context(), &schedulev1.StageImportRequest{ImportId: "y", Rows: rows[entry : entry+1]})
		if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); len(f.Fields) != 1 || !strings.Contains(f.Fields[0].Name, "void_reason") {
			t.Errorf("%s: got %v", name, f.Fields)
		}
	}
	_, err = w.CommitImport(t.Context(), &schedulev1.CommitImportRequest{ImportId: "x", Chunks: 1})
	if err == nil {
		t.Error("an import without its chunks took effect")
	}
}
