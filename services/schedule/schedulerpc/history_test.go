package schedulerpc_test

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/vehicle"
)

const (
	id1 = "0190c5a2-7f3e-4b1d-9a44-2f6f0e6b8c11"
	id2 = "0190c5a2-7f3e-4b1d-9a44-2f6f0e6b8c12"
)

// turned is a vehicle whose dial has gone round: 99,870 and then 00,120.
func turned(t *testing.T) (w *works, after *schedulev1.Reading) {
	w = start(t, "2020-01-01", every("E01", "3000", 0))
	for i, mi := range []string{"24000", "48000", "72000", "95000", "99870"} {
		w.read(day("2020-01-01").AddMonths(12*(i+1)).String(), mi)
	}
	if got := w.read("2025-06-01", "120"); got.GetState() != schedulev1.ReadingState_READING_STATE_DOUBTFUL {
		t.Fatalf("a fall was accepted: %v", got)
	} else {
		after = got
	}
	return w, after
}

func TestARolloverIsSettledByAPerson(t *testing.T) {
	// checks.md O-65: 99,870.0 to 00,120.0 is 250.0 miles.
	w, after := turned(t)
	if e := after.GetExplanations()[0]; e.GetRule() != "ROLLOVER" || e.GetVerdict() != schedulev1.Verdict_VERDICT_ROLLED_OVER {
		t.Errorf("the likeliest explanation is %v", e)
	}
	doubtful := must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: "vehicles/-"}))(t)
	if len(doubtful.GetReadings()) != 1 || doubtful.GetReadings()[0].GetName() != after.GetName() {
		t.Errorf("the list of all doubtful ones is %v", doubtful)
	}
	before := w.schedule("2025-06-01")
	if before.GetDoubtfulReadings() != 1 {
		t.Errorf("the schedule tells of %d doubtful readings", before.GetDoubtfulReadings())
	}
	settle := &schedulev1.SettleReadingRequest{Name: after.GetName(), Etag: after.GetEtag(), RequestId: id1, Settlement: &schedulev1.Settlement{
		Verdict: schedulev1.Verdict_VERDICT_ROLLED_OVER, Reason: "the owner saw it turn"}}
	got := must(w.SettleReading(t.Context(), settle))(t)
	if got.GetState() != schedulev1.ReadingState_READING_STATE_COUNTED || got.GetSettlement().GetSettledBy() != "front desk" {
		t.Errorf("settled: %v", got)
	}
	all := must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t).GetReadings()
	way := all[5].GetLifeDistance().GetMillimetres() - all[4].GetLifeDistance().GetMillimetres()
	if way != 250*int64(vehicle.Mile) {
		t.Errorf("%d mm from 99,870 to 00,120, want 250 miles", way)
	}
	if again := must(w.SettleReading(t.Context(), settle))(t); !proto.Equal(got, again) {
		t.Errorf("asked again: %v", again)
	}
	settle.RequestId = id2
	_, err := w.SettleReading(t.Context(), settle)
	refused(t, err, fault.Aborted, "ETAG_MISMATCH")
}

func TestTheTenthsWheelRollsOverExactlyThroughTheAPI(t *testing.T) {
	// checks.md O-65: 99,999.9 to 00,000.4 is 0.5 miles, 804,672 mm.
	w := start(t, "2020-01-01", every("E01", "3000", 0))
	for i, mi := range []string{"24000", "48000", "72000", "97500", "99999.9"} {
		w.read(day("2020-01-01").AddMonths(12*(i+1)).String(), mi)
	}
	after := w.read("2025-01-02", "0.4")
	if e := after.GetExplanations()[0]; e.GetRule() != "ROLLOVER" {
		t.Fatalf("the likeliest explanation is %v", e)
	}
	must(w.SettleReading(t.Context(), &schedulev1.SettleReadingRequest{Name: after.GetName(), Etag: after.GetEtag(), Settlement: &schedulev1.Settlement{
		Verdict: schedulev1.Verdict_VERDICT_ROLLED_OVER, Reason: "seen"}}))(t)
	all := must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t).GetReadings()
	if way := all[5].GetLifeDistance().GetMillimetres() - all[4].GetLifeDistance().GetMillimetres(); way != 804_672 {
		t.Errorf("%d mm, want 804,672", way)
	}
}

func TestADecisionThatReplacesAnotherKeepsWhatItReplaces(t *testing.T) {
	w, after := turned(t)
	settle := func(bearer, on, etag string, s *schedulev1.Settlement) (*schedulev1.Reading, error) {
		w.today(on)
		w.caller.Store(&access.Caller{Role: access.Support, Bearer: bearer})
		return w.SettleReading(t.Context(), &schedulev1.SettleReadingRequest{Name: after.GetName(), Etag: etag, Settlement: s})
	}
	first := must(settle("front desk", "2026-11-25", after.GetEtag(), &schedulev1.Settlement{Verdict: schedulev1.Verdict_VERDICT_CORRECTED, Corrected: miles("99990"), Reason: "guessed"}))(t)
	second := must(settle("bench two", "2026-11-26", first.GetEtag(), &schedulev1.Settlement{Verdict: schedulev1.Verdict_VERDICT_REJECTED, Reason: "nonsense"}))(t)
	must(settle("engineer", "2026-11-27", second.GetEtag(), &schedulev1.Settlement{Verdict: schedulev1.Verdict_VERDICT_ROLLED_OVER, Reason: "photograph"}))(t)
	// Whoever looks later finds all of it: what was read, and each decision.
	got := must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t).GetReadings()[5]
	s := got.GetSettlement()
	want := "photograph [before: rejected by bench two on 2026-11-26: nonsense [before: corrected to 99990 mi by front desk on 2026-11-25: guessed]]"
	if s.GetReason() != want || s.GetSettledBy() != "engineer" || s.GetSettleTime().AsTime().Format("2006-01-02") != "2026-11-27" {
		t.Errorf("settled by %s at %v: %q, want the engineer and %q", s.GetSettledBy(), s.GetSettleTime().AsTime(), s.GetReason(), want)
	}
	if got.GetValue().GetEnteredValue() != "120" || got.GetRecordedBy() != "front desk" || got.GetState() != schedulev1.ReadingState_READING_STATE_COUNTED {
		t.Errorf("as it was read, it is lost: %v", got)
	}
	_, err := settle("engineer", "2026-11-28", got.GetEtag(), &schedulev1.Settlement{Verdict: schedulev1.Verdict_VERDICT_AS_READ, Reason: strings.Repeat("x", 1950)})
	if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); f.Fields[0].Name != "settlement.reason" {
		t.Errorf("a reason that leaves no room for what it replaces: %v", f.Fields)
	}
}

func TestSettlementsAreChecked(t *testing.T) {
	w, after := turned(t)
	for name, s := range map[string]*schedulev1.Settlement{
		"settlement.verdict":   {Reason: "x"},
		"settlement.reason":    {Verdict: schedulev1.Verdict_VERDICT_AS_READ},
		"settlement.corrected": {Verdict: schedulev1.Verdict_VERDICT_CORRECTED, Reason: "x"},
	} {
		_, err := w.SettleReading(t.Context(), &schedulev1.SettleReadingRequest{Name: after.GetName(), Etag: after.GetEtag(), Settlement: s})
		if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); len(f.Fields) != 1 || f.Fields[0].Name != name {
			t.Errorf("got %v, want %s alone", f.Fields, name)
		}
	}
	_, err := w.SettleReading(t.Context(), &schedulev1.SettleReadingRequest{Name: theVehicle + "/readings/nothere", Etag: after.GetEtag(),
		Settlement: &schedulev1.Settlement{Verdict: schedulev1.Verdict_VERDICT_AS_READ, Reason: "x"}})
	refused(t, err, fault.NotFound, "READING_NOT_FOUND")
}

func TestARepeatedReadingRequestIsOneReading(t *testing.T) {
	w := start(t, "2020-01-01", every("E01", "3000", 12))
	r := &schedulev1.RecordReadingRequest{Parent: theVehicle, RequestId: id1, Reading: &schedulev1.Reading{
		ReadingDate: calendar("2021-01-01"), Value: miles("1200.5"), Note: "by telephone"}}
	first := must(w.RecordReading(t.Context(), r))(t)
	again := must(w.RecordReading(t.Context(), r))(t)
	if !proto.Equal(first, again) {
		t.Errorf("first %v\nagain %v", first, again)
	}
	if first.GetLifeDistance().GetMillimetres() != 1_932_017_472 { // 1,200.5 x 1,609,344 mm, by hand
		t.Errorf("life distance %d mm", first.GetLifeDistance().GetMillimetres())
	}
	r.Reading.Note = "another"
	_, err := w.RecordReading(t.Context(), r)
	refused(t, err, fault.Invalid, "REQUEST_ID_REUSED")
}

func TestReadingsAreRefusedInTheWordsOfTheirFields(t *testing.T) {
	w := start(t, "2020-01-01", every("E01", "3000", 12))
	for _, c := range []struct {
		name    string
		reading *schedulev1.Reading
		field   string
	}{
		{"no value", &schedulev1.Reading{ReadingDate: calendar("2021-01-01")}, "reading.value"},
		{"less than nothing", &schedulev1.Reading{ReadingDate: calendar("2021-01-01"), Value: miles("-3")}, "reading.value.entered_value"},
		{"no unit", &schedulev1.Reading{ReadingDate: calendar("2021-01-01"), Value: &vehiclev1.Distance{EnteredValue: "3"}}, "reading.value"},
		{"a novel", &schedulev1.Reading{ReadingDate: calendar("2021-01-01"), Value: miles("3"), Note: strings.Repeat("x", 3000)}, "reading.note"},
	} {
		_, err := w.RecordReading(t.Context(), &schedulev1.RecordReadingRequest{Parent: theVehicle, Reading: c.reading})
		f := rpcerr.FromStatus(err)
		if f == nil || f.Kind != fault.Invalid || len(f.Fields) != 1 || f.Fields[0].Name != c.field {
			t.Errorf("%s: %v, want %s", c.name, f, c.field)
		}
	}
}

func TestAnOwnerSpeaksForNobodyElse(t *testing.T) {
	w := start(t, "2020-01-01", every("E01", "3000", 12))
	w.caller.Store(&access.Caller{Role: access.Owner, Bearer: "people/x", Person: "people/x"})
	r := must(w.RecordReading(t.Context(), &schedulev1.RecordReadingRequest{Parent: theVehicle, Reading: &schedulev1.Reading{
		ReadingDate: calendar("2021-01-01"), Value: miles("900"), Source: schedulev1.ReadingSource_READING_SOURCE_WORKS}}))(t)
	if r.GetSource() != schedulev1.ReadingSource_READING_SOURCE_OWNER {
		t.Errorf("source %s", r.GetSource())
	}
}

func TestWorkDoneIsCheckedAgainstTheProgramme(t *testing.T) {
	float := every("T02", "", 24)
	float.Measured = []*schedulev1.MeasuredLimit{{Characteristic: "end-float", Unit: "mm", Lower: "0.05", Upper: "0.15", Action: "0.20"}}
	w := start(t, "2020-01-01", float, every("E01", "", 12))
	record := func(e *schedulev1.ServiceEntry) error {
		e.ServiceDate = calendar("2021-01-01")
		_, err := w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: e})
		return err
	}
	measured := func(what, value, unit string) *schedulev1.ServiceEntry {
		return &schedulev1.ServiceEntry{Items: []*schedulev1.ItemDone{{ItemId: "T02", Measured: []*schedulev1.MeasuredValue{
			{Characteristic: what, Value: &vehiclev1.Quantity{Value: value, Unit: unit}}}}}}
	}
	for field, e := range map[string]*schedulev1.ServiceEntry{
		"service_entry.items[0].item_id":                    {Items: []*schedulev1.ItemDone{{ItemId: "X99"}}},
		"service_entry.items[0].measured[0].characteristic": measured("preload", "0.10", "mm"),
		"service_entry.items[0].measured[0].value.unit":     measured("end-float", "4", "thou"),
		"service_entry.items[0].measured[0].value":          measured("end-float", "0,10", "mm"),
		"service_entry.items":                               {},
		"service_entry.parts[0].quantity":                   {Parts: []*schedulev1.PartUsed{{Part: "AP-1"}}},
	} {
		f := refused(t, record(e), fault.Invalid, "INVALID_FIELD")
		if f.Fields[0].Name != field {
			t.Errorf("got %v, want %s", f.Fields, field)
		}
	}
	if err := record(measured("end-float", "0.18", "mm")); err != nil {
		t.Fatal(err)
	}
	got := w.item("2021-02-01", "T02").GetLastMeasured()
	if len(got) != 1 || got[0].GetValue().GetValue() != "0.18" || got[0].GetWithinLimits() || iso(got[0].GetMeasuredDate()) != "2021-01-01" {
		t.Errorf("last measured %v, want 0.18 mm, out of the window", got)
	}
}

func TestTheReadingOfAServiceCountsLikeAnyOtherAndGoesWithTheEntry(t *testing.T) {
	w := start(t, "2024-01-01", every("E01", "3000", 12))
	e := must(w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: calendar("2025-01-01"), Reading: miles("1000"), Items: []*schedulev1.ItemDone{{ItemId: "E01"}}}}))(t)
	all := must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t).GetReadings()
	if len(all) != 1 || all[0].GetState() != schedulev1.ReadingState_READING_STATE_COUNTED {
		t.Fatalf("readings %v", all)
	}
	if got := w.item("2025-02-01", "E01"); got.GetDueDistance().GetMillimetres() != 4000*int64(vehicle.Mile) {
		t.Errorf("due at %d mm, want 4,000 miles", got.GetDueDistance().GetMillimetres())
	}
	void := &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Etag: e.GetEtag(), Reason: "another vehicle"}
	unsaid := proto.CloneOf(void)
	unsaid.Reason = " \t"
	_, err := w.VoidServiceEntry(t.Context(), unsaid)
	refused(t, err, fault.Invalid, "INVALID_FIELD")
	struck := must(w.VoidServiceEntry(t.Context(), void))(t)
	if struck.GetVoidReason() != "another vehicle" || struck.GetVoidedBy() == "" || struck.GetVoidTime() == nil {
		t.Errorf("struck out: %v", struck)
	}
	if got := w.item("2025-02-01", "E01"); got.GetLastDoneDate() != nil || iso(got.GetDueDate()) != "2025-01-01" {
		t.Errorf("after it was struck out: last done %v, due %s", got.GetLastDoneDate(), iso(got.GetDueDate()))
	}
	all = must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t).GetReadings()
	if all[0].GetState() != schedulev1.ReadingState_READING_STATE_REJECTED {
		t.Errorf("its reading is %s", all[0].GetState())
	}
	listed := must(w.ListServiceEntries(t.Context(), &schedulev1.ListServiceEntriesRequest{Parent: theVehicle}))(t).GetServiceEntries()
	if len(listed) != 1 || listed[0].GetEtag() != struck.GetEtag() {
		t.Errorf("it stays readable: %v", listed)
	}
	void.Etag = struck.GetEtag()
	_, err = w.VoidServiceEntry(t.Context(), void)
	refused(t, err, fault.FailedPrecondition, "SERVICE_ENTRY_VOID")
}

func TestALateEntryReAnchorsThroughTheAPI(t *testing.T) {
	w := start(t, "2020-01-01", every("B01", "", 24))
	w.done("2024-06-30", "B01")
	w.done("2022-02-01", "B01") // reported late, done before: nothing changes
	if got := w.item("2025-01-01", "B01"); iso(got.GetDueDate()) != "2026-06-30" || got.GetCycle() != "B01.2024-06-30" {
		t.Errorf("due %s, cycle %s", iso(got.GetDueDate()), got.GetCycle())
	}
	w.done("2024-11-11", "B01")
	if got := w.item("2025-01-01", "B01"); iso(got.GetDueDate()) != "2026-11-11" {
		t.Errorf("due %s, want 2026-11-11", iso(got.GetDueDate()))
	}
}

func TestEventsStartItemsThroughTheAPI(t *testing.T) {
	nuts := every("W01", "", 0)
	nuts.Every = nil
	nuts.StartsOn = []*schedulev1.EventStart{{Event: schedulev1.EventKind_EVENT_KIND_WHEEL_REFITTED, NotBefore: miles("30"), WithinDistance: miles("100")}}
	w := start(t, "2020-01-01", nuts)
	w.read("2024-01-01", "5844") // 4 miles a day
	e := must(w.RecordEvent(t.Context(), &schedulev1.RecordEventRequest{Parent: theVehicle, Event: &schedulev1.Event{
		Kind: schedulev1.EventKind_EVENT_KIND_WHEEL_REFITTED, EventDate: calendar("2024-03-01"), Reading: miles("6090")}}))(t)
	got := w.item("2024-03-02", "W01")
	if got.GetDueDistance().GetMillimetres() != 6190*int64(vehicle.Mile) || got.GetReasons()[1].GetRecord() != e.GetName() || got.GetNotBeforeDate() == nil {
		t.Errorf("got %v", got)
	}
	if listed := must(w.ListEvents(t.Context(), &schedulev1.ListEventsRequest{Parent: theVehicle}))(t).GetEvents(); len(listed) != 1 {
		t.Errorf("events %v", listed)
	}
	_, err := w.RecordEvent(t.Context(), &schedulev1.RecordEventRequest{Parent: theVehicle, Event: &schedulev1.Event{EventDate: calendar("2024-03-01")}})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
}

func TestUseIsDeclaredFromNowOnAndEnded(t *testing.T) {
	oil := every("E01", "", 24)
	oil.Severe = &schedulev1.Severe{When: []schedulev1.UseKind{schedulev1.UseKind_USE_KIND_DUST}, TimeFactor: "0.5"}
	w := start(t, "2024-12-01", oil)
	declare := func(kind schedulev1.UseKind, from, to string) (*schedulev1.UseFact, error) {
		f := &schedulev1.UseFact{Kind: kind, StartDate: calendar(from)}
		if to != "" {
			f.EndDate = calendar(to)
		}
		return w.DeclareUse(t.Context(), &schedulev1.DeclareUseRequest{Parent: theVehicle, UseFact: f})
	}
	_, err := declare(schedulev1.UseKind_USE_KIND_DUST, "2025-01-01", "")
	refused(t, err, fault.Invalid, "INVALID_FIELD") // it would move a due date that is past
	fact, err := declare(schedulev1.UseKind_USE_KIND_DUST, "2026-11-20", "")
	if err != nil {
		t.Fatal(err)
	}
	if got := w.item("2026-11-25", "E01"); iso(got.GetDueDate()) != "2026-11-20" || got.GetState() != schedulev1.DueState_DUE_STATE_OVERDUE {
		t.Errorf("due %s, want 2026-11-20: the day it was declared for, 12 months being past", iso(got.GetDueDate()))
	}
	fact.EndDate = calendar("2026-12-31")
	ended := must(w.EndUse(t.Context(), &schedulev1.EndUseRequest{UseFact: fact}))(t)
	if iso(ended.GetEndDate()) != "2026-12-31" || ended.GetEtag() == fact.GetEtag() {
		t.Errorf("ended: %v", ended)
	}
	w.today("2027-03-01")
	ended.EndDate = calendar("2027-06-01")
	_, err = w.EndUse(t.Context(), &schedulev1.EndUseRequest{UseFact: ended})
	refused(t, err, fault.FailedPrecondition, "USE_ENDED")
	if _, err := declare(schedulev1.UseKind_USE_KIND_LAID_UP, "2025-11-01", "2026-03-31"); err != nil {
		t.Errorf("a lay-up told late: %v", err)
	}
	if s := w.schedule("2025-12-01"); iso(s.GetLayUp().GetStartDate()) != "2025-11-01" || iso(s.GetLayUp().GetEndDate()) != "2026-03-31" {
		t.Errorf("lay-up %v", s.GetLayUp())
	}
	if listed := must(w.ListUseFacts(t.Context(), &schedulev1.ListUseFactsRequest{Parent: theVehicle}))(t).GetUseFacts(); len(listed) != 2 {
		t.Errorf("use facts %v", listed)
	}
}

func TestProgrammesAreChecked(t *testing.T) {
	w := start(t, "2020-01-01", every("E01", "", 12))
	bad := every("E02", "", 12)
	bad.AppliesWhen, bad.Resets = `"winch" in fited && 3`, []string{"E77"}
	_, err := w.CreateProgramme(t.Context(), &schedulev1.CreateProgrammeRequest{Programme: programme(2, "2024-01-01", bad, every("E02", "", 0))})
	f := refused(t, err, fault.Invalid, "INVALID_FIELD")
	if len(f.Fields) < 4 {
		t.Errorf("not every fault at once: %v", f.Fields)
	}
	_, err = w.CreateProgramme(t.Context(), &schedulev1.CreateProgrammeRequest{Programme: programme(1, "2024-01-01", every("E01", "", 6))})
	refused(t, err, fault.AlreadyExists, "PROGRAMME_EXISTS")
	_, err = w.CreateProgramme(t.Context(), &schedulev1.CreateProgrammeRequest{Programme: programme(3, "2024-01-01", every("E01", "", 6))})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
	second := must(w.CreateProgramme(t.Context(), &schedulev1.CreateProgrammeRequest{Programme: programme(2, "2024-01-01", every("E01", "", 6))}))(t)
	latest := must(w.GetProgramme(t.Context(), &schedulev1.GetProgrammeRequest{Name: "programmes/packhorse"}))(t)
	if !proto.Equal(second, latest) {
		t.Errorf("the latest is %v, want %v", latest, second)
	}
	first := must(w.ListProgrammes(t.Context(), &schedulev1.ListProgrammesRequest{PageSize: 1}))(t)
	rest := must(w.ListProgrammes(t.Context(), &schedulev1.ListProgrammesRequest{PageSize: 1, PageToken: first.GetNextPageToken()}))(t)
	if len(first.GetProgrammes()) != 1 || len(rest.GetProgrammes()) != 1 || rest.GetNextPageToken() != "" {
		t.Errorf("pages %v, %v", first, rest)
	}
}

func TestAHistoryIsTheSameAfterARestart(t *testing.T) {
	w, _ := turned(t)
	w.done("2025-06-02", "E01")
	before := w.schedule("2026-11-25")
	w.close()
	again := open(t, kv.NewStore(w.store.Client()))
	if got := again.schedule("2026-11-25"); !proto.Equal(before, got) {
		t.Errorf("before the restart %v\nafter it %v", before, got)
	}
}

func TestARecordWithoutADateIsOfToday(t *testing.T) {
	w := start(t, "2020-01-01", every("E01", "", 12))
	w.today("2026-05-18")
	r := must(w.RecordReading(t.Context(), &schedulev1.RecordReadingRequest{Parent: theVehicle, Reading: &schedulev1.Reading{Value: miles("300")}}))(t)
	e := must(w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle,
		ServiceEntry: &schedulev1.ServiceEntry{Items: []*schedulev1.ItemDone{{ItemId: "E01"}}}}))(t)
	v := must(w.RecordEvent(t.Context(), &schedulev1.RecordEventRequest{Parent: theVehicle, Event: &schedulev1.Event{Kind: schedulev1.EventKind_EVENT_KIND_WADING}}))(t)
	u := must(w.DeclareUse(t.Context(), &schedulev1.DeclareUseRequest{Parent: theVehicle, UseFact: &schedulev1.UseFact{Kind: schedulev1.UseKind_USE_KIND_DUST}}))(t)
	for name, got := range map[string]string{"reading": iso(r.GetReadingDate()), "service": iso(e.GetServiceDate()), "event": iso(v.GetEventDate()), "use": iso(u.GetStartDate())} {
		if got != "2026-05-18" {
			t.Errorf("%s is of %s, want 2026-05-18", name, got)
		}
	}
}
