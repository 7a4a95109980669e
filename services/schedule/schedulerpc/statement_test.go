package schedulerpc_test

import (
	"fmt"
	"strings"
	"testing"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
)

// byOwner makes the calls from here on an owner's.
func (w *works) byOwner() { w.byOwnerCalled("people/p0031") }

func (w *works) byOwnerCalled(person string) {
	w.caller.Store(&access.Caller{Role: access.Owner, Bearer: "owner, by a link", Person: person})
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

// What an owner says stays with the vehicle; their words and photographs do not
// go to whoever has it after them, or beside them.
func TestAnOwnersWordsAreForThemAndTheWorks(t *testing.T) {
	float := every("T02", "", 24)
	float.Measured = []*schedulev1.MeasuredLimit{{Characteristic: "end-float", Unit: "mm", Lower: "0.05", Upper: "0.15", Action: "0.20"}}
	w := start(t, "2024-01-01", every("E01", "3000", 12), float)
	w.byOwner()
	e := must(w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: calendar("2025-01-01"), Reading: miles("1000"), DoneBy: "my cousin", Note: "at my house",
		Items: []*schedulev1.ItemDone{{ItemId: "E01", Note: "by the barn"}, {ItemId: "T02", Measured: []*schedulev1.MeasuredValue{
			{Characteristic: "end-float", Value: &vehiclev1.Quantity{Value: "0.12", Unit: "mm"}, MeasuredBy: "my aunt", Instrument: "my uncle's gauge"}}}},
	}}))(t)
	must(w.RecordReading(t.Context(), &schedulev1.RecordReadingRequest{Parent: theVehicle, Reading: &schedulev1.Reading{
		ReadingDate: calendar("2025-02-01"), Value: miles("1100"), Note: "on my drive", Photograph: "people/p0031/documents/5f2c"}}))(t)
	must(w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: must(w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{
		Parent: theVehicle, ServiceEntry: &schedulev1.ServiceEntry{ServiceDate: calendar("2025-03-01"), Reading: miles("1200"), Items: []*schedulev1.ItemDone{{ItemId: "E01"}}},
	}))(t).GetName(), Etag: w.lastEntry(t).GetEtag(), Reason: "my mistake"}))(t)
	w.byStaff()
	must(w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: calendar("2025-04-01"), DoneBy: "Aldermoor Works", Note: "as it should be", Items: []*schedulev1.ItemDone{{ItemId: "E01"}},
	}}))(t)
	own := []string{"my cousin", "at my house", "by the barn", "my aunt", "my uncle's gauge", "on my drive", "people/p0031", "5f2c", "my mistake"}
	for _, c := range []struct {
		who  string
		ask  func()
		told bool
	}{
		{"the works", w.byStaff, true}, {"the owner who said so", w.byOwner, true},
		{"another owner", func() { w.byOwnerCalled("people/p00") }, false}, {"an owner without a name", func() { w.byOwnerCalled("") }, false},
	} {
		c.ask()
		read := w.everythingRead(t)
		for _, words := range own {
			if strings.Contains(read, words) != c.told {
				t.Errorf("%s reads %q: %v, want %v", c.who, words, !c.told, c.told)
			}
		}
		for _, words := range []string{"Aldermoor Works", "as it should be", "0.12", "1100"} {
			if !strings.Contains(read, words) {
				t.Errorf("%s does not read %q:\n%s", c.who, words, read)
			}
		}
	}
	w.byStaff()
	if again := w.everythingRead(t); !strings.Contains(again, "my aunt") {
		t.Error("what another owner was not told is gone")
	}
	w.byOwnerCalled("people/p0077")
	for _, etag := range []string{e.GetEtag(), "1"} {
		_, err := w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Etag: etag, Reason: "not mine"})
		refused(t, err, fault.NotFound, "SERVICE_ENTRY_NOT_FOUND")
	}
}

// lastEntry gives the last service entry.
func (w *works) lastEntry(t *testing.T) *schedulev1.ServiceEntry {
	t.Helper()
	all := must(w.ListServiceEntries(t.Context(), &schedulev1.ListServiceEntriesRequest{Parent: theVehicle}))(t).GetServiceEntries()
	return all[len(all)-1]
}

// everythingRead gives all that an owner may ask of a vehicle's history, as text.
func (w *works) everythingRead(t *testing.T) string {
	t.Helper()
	return fmt.Sprint(
		must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t),
		must(w.ListServiceEntries(t.Context(), &schedulev1.ListServiceEntriesRequest{Parent: theVehicle}))(t),
		must(w.ListMeasuredSeries(t.Context(), &schedulev1.ListMeasuredSeriesRequest{Parent: theVehicle}))(t),
		must(w.GetSchedule(t.Context(), &schedulev1.GetScheduleRequest{Name: theVehicle + "/schedule"}))(t),
	)
}

func TestWhoSaidSoComesInWithAnImport(t *testing.T) {
	w := start(t, "2024-01-01", every("E01", "3000", 12))
	entry := &schedulev1.ServiceEntry{Name: theVehicle + "/serviceEntries/e1", ServiceDate: calendar("2025-01-01"), Reading: miles("1000"),
		Items: []*schedulev1.ItemDone{{ItemId: "E01"}}, OwnerStatement: true, StatedBy: "people/p0031"}
	stage := func(by string) error {
		entry.StatedBy = by
		_, err := w.StageImport(t.Context(), &schedulev1.StageImportRequest{ImportId: "in", Rows: []*schedulev1.HistoryRow{
			{Row: &schedulev1.HistoryRow_ServiceEntry{ServiceEntry: entry}}}})
		return err
	}
	if f := rpcerr.FromStatus(stage("p0031")); f == nil || f.Kind != fault.Invalid || !strings.HasSuffix(f.Fields[0].Name, ".service_entry.stated_by") {
		t.Errorf("half a name: %v", f)
	}
	if err := stage("people/p0031"); err != nil {
		t.Fatal(err)
	}
	must(w.CommitImport(t.Context(), &schedulev1.CommitImportRequest{ImportId: "in", Chunks: 1}))(t)
	w.byOwner()
	got := w.lastEntry(t)
	readings := must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t).GetReadings()
	if got.GetStatedBy() != "people/p0031" || len(readings) != 1 || readings[0].GetStatedBy() != "people/p0031" {
		t.Errorf("got %v and %v", got, readings)
	}
	must(w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: got.GetName(), Etag: got.GetEtag(), Reason: "a slip"}))(t)
}

// Somebody sends a reading again because its photograph did not come through.
func TestAnOwnerWhoSaysTheSameAgainSaysItOnce(t *testing.T) {
	w := start(t, "2024-01-01", every("E01", "3000", 12))
	w.byOwner()
	say := func(on, mi, photograph string) *schedulev1.Reading {
		t.Helper()
		return must(w.RecordReading(t.Context(), &schedulev1.RecordReadingRequest{Parent: theVehicle, Reading: &schedulev1.Reading{
			ReadingDate: calendar(on), Value: miles(mi), Photograph: photograph}}))(t)
	}
	count := func(want int) {
		t.Helper()
		if got := must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t).GetReadings(); len(got) != want {
			t.Errorf("%d readings, want %d: %v", len(got), want, got)
		}
	}
	picture := "people/p0031/documents/" + strings.Repeat("5f", 32)
	first := say("2025-01-01", "1000", "")
	again := say("2025-01-01", "1000", picture)
	if again.GetName() != first.GetName() || again.GetPhotograph() != picture || again.GetState() != schedulev1.ReadingState_READING_STATE_COUNTED {
		t.Errorf("said again: %v", again)
	}
	if third := say("2025-01-01", "1000", ""); third.GetName() != first.GetName() || third.GetPhotograph() != picture {
		t.Errorf("said a third time, without the photograph: %v", third)
	}
	count(1)
	if other := say("2025-01-02", "1000", ""); other.GetName() == first.GetName() {
		t.Error("of another day it is another reading")
	}
	count(2)
	// What others say is theirs, and what a person decided stays decided.
	w.byOwnerCalled("people/p0040")
	if theirs := say("2025-01-01", "1000", ""); theirs.GetName() == first.GetName() {
		t.Error("somebody else's was taken for theirs")
	}
	w.byStaff()
	w.read("2025-01-01", "1000")
	count(4)
	must(w.SettleReading(t.Context(), &schedulev1.SettleReadingRequest{Name: again.GetName(), Etag: w.reading(again.GetName()).GetEtag(),
		Settlement: &schedulev1.Settlement{Verdict: schedulev1.Verdict_VERDICT_REJECTED, Reason: "another vehicle's"}}))(t)
	w.byOwner()
	if insisted := say("2025-01-01", "1000", ""); insisted.GetName() == first.GetName() {
		t.Error("what was decided is decided anew without a word")
	}
}

// reading gives a reading as it is now.
func (w *works) reading(name string) *schedulev1.Reading {
	w.t.Helper()
	for _, r := range must(w.ListReadings(w.t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(w.t).GetReadings() {
		if r.GetName() == name {
			return r
		}
	}
	w.t.Fatalf("there is no %s", name)
	return nil
}

func TestAScheduleSaysWhenTheVehicleWasDeliveredAndWhatItsDialIs(t *testing.T) {
	w := start(t, "2024-01-01", every("E01", "3000", 12))
	s := w.schedule("2025-01-01")
	if iso(s.GetDeliveryDate()) != "2024-01-01" || s.GetPace().GetDialDigits() != 5 || s.GetPace().GetUnit() != "mi" {
		t.Errorf("got %v, %v", s.GetDeliveryDate(), s.GetPace())
	}
}
