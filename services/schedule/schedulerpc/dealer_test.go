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

const (
	ferncombe  = "organisations/ferncombe"
	saltmarket = "organisations/saltmarket"
)

// byDealer makes the calls from here on those of somebody at a dealer.
func (w *works) byDealer(organisation, bearer string) {
	w.caller.Store(&access.Caller{Role: access.Dealer, Bearer: bearer, Organisation: organisation})
}

// withFloat is a vehicle whose programme has an oil change and a measured value.
func withFloat(t *testing.T, more ...*schedulev1.Item) *works {
	float := every("T02", "", 24)
	float.Measured = []*schedulev1.MeasuredLimit{{Characteristic: "end-float", Unit: "mm", Lower: "0.05", Upper: "0.15", Action: "0.20"}}
	return start(t, "2024-01-01", append([]*schedulev1.Item{every("E01", "3000", 12), float}, more...)...)
}

// serviced records a service with a reading, a part, shims and a measured value.
func (w *works) serviced(on, mi, note string) *schedulev1.ServiceEntry {
	w.t.Helper()
	return must(w.RecordService(w.t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: calendar(on), Reading: miles(mi), Note: note,
		Parts: []*schedulev1.PartUsed{{Part: "AP-2001", Quantity: 1, Lot: "L7"}},
		Items: []*schedulev1.ItemDone{{ItemId: "E01"}, {ItemId: "T02",
			Measured: []*schedulev1.MeasuredValue{{Characteristic: "end-float", Value: &vehiclev1.Quantity{Value: "0.12", Unit: "mm"}, Instrument: "dial gauge 4"}},
			Shims: []*schedulev1.ShimWork{{Position: "output-shaft-bearing", Characteristic: "end-float",
				Pack: &vehiclev1.Quantity{Value: "0.50", Unit: "mm"}}}}},
		// What nobody may say of themselves:
		Organisation: "organisations/somebody-else", OwnerStatement: true, StatedBy: "people/p0099",
	}}))(w.t)
}

func TestADealersWorkCountsAsTheWorksOwnAndNamesTheDealer(t *testing.T) {
	w := withFloat(t)
	w.byDealer(ferncombe, "ida")
	e := w.serviced("2025-01-01", "1000", "as it should be")
	if e.GetOrganisation() != ferncombe || e.GetRecordedBy() != "ida" || e.GetOwnerStatement() || e.GetStatedBy() != "" || len(e.GetParts()) != 1 {
		t.Errorf("recorded %v", e)
	}
	r := must(w.RecordReading(t.Context(), &schedulev1.RecordReadingRequest{Parent: theVehicle, Reading: &schedulev1.Reading{
		ReadingDate: calendar("2025-02-01"), Value: miles("1100"), Source: schedulev1.ReadingSource_READING_SOURCE_WORKS}}))(t)
	v := must(w.RecordEvent(t.Context(), &schedulev1.RecordEventRequest{Parent: theVehicle, Event: &schedulev1.Event{
		Kind: schedulev1.EventKind_EVENT_KIND_WHEEL_REFITTED, EventDate: calendar("2025-03-01"), Reading: miles("1200")}}))(t)
	if r.GetSource() != schedulev1.ReadingSource_READING_SOURCE_DEALER || r.GetOrganisation() != ferncombe || v.GetOrganisation() != ferncombe || v.GetRecordedBy() != "ida" {
		t.Errorf("recorded %v and %v", r, v)
	}
	readings := must(w.ListReadings(t.Context(), &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t).GetReadings()
	if len(readings) != 3 {
		t.Fatalf("%d readings", len(readings))
	}
	for _, r := range readings {
		if r.GetSource() != schedulev1.ReadingSource_READING_SOURCE_DEALER || r.GetOrganisation() != ferncombe || r.GetState() != schedulev1.ReadingState_READING_STATE_COUNTED {
			t.Errorf("reading %v", r)
		}
	}
	if got := w.item("2025-03-02", "E01"); iso(got.GetDueDate()) != "2026-01-01" {
		t.Errorf("it does not count: due %s", iso(got.GetDueDate()))
	}
	_, err := w.RecordReading(t.Context(), &schedulev1.RecordReadingRequest{Parent: theVehicle, Reading: &schedulev1.Reading{
		Value: miles("1300"), Photograph: "people/p0031/documents/5f2c"}})
	if f := rpcerr.FromStatus(err); f == nil || f.Kind != fault.Invalid || f.Fields[0].Name != "reading.photograph" {
		t.Errorf("a photograph of an owner's: %v", err)
	}
	// A reading that cannot be waits for the works, whoever says it.
	if odd := must(w.RecordReading(t.Context(), &schedulev1.RecordReadingRequest{Parent: theVehicle, Reading: &schedulev1.Reading{
		ReadingDate: calendar("2025-03-02"), Value: miles("90000")}}))(t); odd.GetState() != schedulev1.ReadingState_READING_STATE_DOUBTFUL {
		t.Errorf("a leap is %v", odd.GetState())
	}
}

func TestADealerStrikesOutOnlyWhatTheirOwnOrganisationRecorded(t *testing.T) {
	for _, c := range []struct {
		name   string
		record func(*works)
		void   func(*works)
		may    bool
	}{
		{"their own", func(w *works) { w.byDealer(ferncombe, "ida") }, func(w *works) { w.byDealer(ferncombe, "ida") }, true},
		{"a colleague's", func(w *works) { w.byDealer(ferncombe, "ida") }, func(w *works) { w.byDealer(ferncombe, "tom") }, true},
		{"another dealer's", func(w *works) { w.byDealer(saltmarket, "ida") }, func(w *works) { w.byDealer(ferncombe, "ida") }, false},
		{"the works'", (*works).byStaff, func(w *works) { w.byDealer(ferncombe, "ida") }, false},
		{"the works', by a dealer without an organisation", (*works).byStaff, func(w *works) { w.byDealer("", "ida") }, false},
		{"an owner's", (*works).byOwner, func(w *works) { w.byDealer(ferncombe, "ida") }, false},
		{"a dealer's, by an owner", func(w *works) { w.byDealer(ferncombe, "ida") }, (*works).byOwner, false},
		{"a dealer's, by the works", func(w *works) { w.byDealer(ferncombe, "ida") }, (*works).byStaff, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := withFloat(t)
			c.record(w)
			w.done("2025-01-01", "E01")
			w.byStaff()
			e := w.lastEntry(t)
			c.void(w)
			request := &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Etag: e.GetEtag(), Reason: "a slip"}
			_, err := w.VoidServiceEntry(t.Context(), request)
			if c.may {
				must(e, err)(t)
				return
			}
			theirs := refused(t, err, fault.NotFound, "SERVICE_ENTRY_NOT_FOUND")
			request.Etag = "1" // a wrong one tells nothing either
			_, err = w.VoidServiceEntry(t.Context(), request)
			refused(t, err, fault.NotFound, "SERVICE_ENTRY_NOT_FOUND")
			request.Name = theVehicle + "/serviceEntries/nothing"
			_, err = w.VoidServiceEntry(t.Context(), request)
			if missing := refused(t, err, fault.NotFound, "SERVICE_ENTRY_NOT_FOUND"); missing.Message != theirs.Message {
				t.Errorf("one that is there reads %q, one that is not %q", theirs.Message, missing.Message)
			}
		})
	}
}

// toldToADealer is all that a dealer may ask of a vehicle's history, as text.
func (w *works) toldToADealer(t *testing.T) string {
	t.Helper()
	return w.everythingRead(t) + fmt.Sprint(
		must(w.ListEvents(t.Context(), &schedulev1.ListEventsRequest{Parent: theVehicle}))(t),
		must(w.ListUseFacts(t.Context(), &schedulev1.ListUseFactsRequest{Parent: theVehicle}))(t),
		must(w.ListComponentDistances(t.Context(), &schedulev1.ListComponentDistancesRequest{Parent: theVehicle}))(t),
		must(w.GetVisitPlan(t.Context(), &schedulev1.GetVisitPlanRequest{Name: theVehicle + "/visitPlan"}))(t),
	)
}

func TestADealerReadsWhatWasDoneAndNobodysWordsButTheirOwn(t *testing.T) {
	w := withFloat(t)
	event := func(on, note string) {
		t.Helper()
		must(w.RecordEvent(t.Context(), &schedulev1.RecordEventRequest{Parent: theVehicle, Event: &schedulev1.Event{
			Kind: schedulev1.EventKind_EVENT_KIND_WADING, EventDate: calendar(on), Note: note}}))(t)
	}
	reading := func(on, mi, note, photograph string) *schedulev1.Reading {
		t.Helper()
		return must(w.RecordReading(t.Context(), &schedulev1.RecordReadingRequest{Parent: theVehicle, Reading: &schedulev1.Reading{
			ReadingDate: calendar(on), Value: miles(mi), Note: note, Photograph: photograph}}))(t)
	}
	w.caller.Store(&access.Caller{Role: access.Owner, Bearer: "Rose Tarn", Person: "people/p0031"})
	must(w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: calendar("2025-01-01"), Reading: miles("1000"), DoneBy: "my cousin", Note: "at my house",
		Items: []*schedulev1.ItemDone{{ItemId: "T02", Note: "by the barn", Measured: []*schedulev1.MeasuredValue{
			{Characteristic: "end-float", Value: &vehiclev1.Quantity{Value: "0.13", Unit: "mm"}, MeasuredBy: "my aunt", Instrument: "my uncle's gauge"}}}},
	}}))(t)
	reading("2025-02-01", "1100", "on my drive", "people/p0031/documents/5f2c")
	event("2025-02-02", "in my brook")
	w.byDealer(saltmarket, "Tom of the other place")
	w.serviced("2025-03-01", "1300", "new shims, noise gone")
	event("2025-03-02", "beside the other place")
	w.byStaff()
	odd := reading("2025-03-03", "91300", "", "")
	must(w.SettleReading(t.Context(), &schedulev1.SettleReadingRequest{Name: odd.GetName(), Etag: odd.GetEtag(), Settlement: &schedulev1.Settlement{
		Verdict: schedulev1.Verdict_VERDICT_REJECTED, Reason: "he was in hospital"}}))(t)
	reading("2025-03-04", "1310", "seen at the works", "people/p0031/documents/77aa")
	must(w.DeclareUse(t.Context(), &schedulev1.DeclareUseRequest{Parent: theVehicle, UseFact: &schedulev1.UseFact{
		Kind: schedulev1.UseKind_USE_KIND_DUST, StartDate: calendar("2026-11-20"), Note: "the quarry where he lodges"}}))(t)
	w.byDealer(ferncombe, "ida")
	w.serviced("2025-06-01", "1900", "my own note")
	event("2025-06-02", "my own event")
	told := w.toldToADealer(t)
	for _, words := range []string{"Rose Tarn", "people/", "my cousin", "at my house", "by the barn", "my aunt", "my uncle's gauge", "on my drive", "in my brook",
		"5f2c", "77aa", "Tom of the other place", "beside the other place", "in hospital", "the quarry"} {
		if strings.Contains(told, words) {
			t.Errorf("a dealer reads %q", words)
		}
	}
	for _, words := range []string{"0.13", "1100", "1000", "noise gone", "L7", "dial gauge 4", saltmarket, ferncombe, "ida", "my own note", "my own event", "USE_KIND_DUST", "seen at the works"} {
		if !strings.Contains(told, words) {
			t.Errorf("a dealer does not read %q", words)
		}
	}
	w.byOwnerCalled("people/p0077")
	if read := w.everythingRead(t); strings.Contains(read, "Rose Tarn") {
		t.Error("the next owner reads the name of the one before")
	}
	w.byStaff()
	if all := w.toldToADealer(t); !strings.Contains(all, "in my brook") || !strings.Contains(all, "the quarry") || !strings.Contains(all, "Rose Tarn") {
		t.Error("what a dealer was not told is gone")
	}
}

// A dealer's schedule has the days that the works' has, lay-ups and seasons
// counted; it does not say that they are why.
func TestADealerIsNotToldWhenTheVehicleStandsStill(t *testing.T) {
	stored := every("L01", "", 3)
	stored.LayUp = schedulev1.LayUpRule_LAY_UP_RULE_ONLY
	putAway := &schedulev1.Item{ItemId: "L02", StartsOn: []*schedulev1.EventStart{{Event: schedulev1.EventKind_EVENT_KIND_LAY_UP, WithinDays: 14}}}
	w := withFloat(t, stored, putAway)
	for on, mi := range map[string]string{"2024-06-01": "1000", "2025-01-01": "1900", "2025-06-01": "2600", "2026-01-02": "5200", "2026-06-01": "5400"} {
		w.read(on, mi)
	}
	declare := func(f *schedulev1.UseFact) {
		t.Helper()
		f.Note = "in the south"
		must(w.DeclareUse(t.Context(), &schedulev1.DeclareUseRequest{Parent: theVehicle, UseFact: f}))(t)
	}
	declare(&schedulev1.UseFact{Kind: schedulev1.UseKind_USE_KIND_SEASONAL, FirstMonth: 4, LastMonth: 10, StartDate: calendar("2024-02-01")})
	w.done("2025-12-15", "E01")
	w.done("2025-02-20", "T02")
	declare(&schedulev1.UseFact{Kind: schedulev1.UseKind_USE_KIND_LAID_UP, StartDate: calendar("2026-12-01"), EndDate: calendar("2027-03-31")})
	must(w.RecordEvent(t.Context(), &schedulev1.RecordEventRequest{Parent: theVehicle, Event: &schedulev1.Event{
		Kind: schedulev1.EventKind_EVENT_KIND_LAY_UP, EventDate: calendar("2026-11-24")}}))(t)
	days := func(s *schedulev1.Schedule) map[string]string {
		out := map[string]string{}
		for _, it := range s.GetItems() {
			out[it.GetItemId()] = iso(it.GetDueDate()) + " " + iso(it.GetActByDate()) + " " + iso(it.GetDistanceDueDate())
		}
		return out
	}
	for _, on := range []string{"2026-11-25", "2026-12-10", "2027-02-25", "2027-04-02"} {
		for _, view := range []schedulev1.ScheduleView{schedulev1.ScheduleView_SCHEDULE_VIEW_FULL, schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC} {
			ask := func() (*schedulev1.Schedule, *schedulev1.VisitPlan) {
				return must(w.GetSchedule(t.Context(), &schedulev1.GetScheduleRequest{Name: theVehicle + "/schedule", OnDate: calendar(on), View: view}))(t),
					must(w.GetVisitPlan(t.Context(), &schedulev1.GetVisitPlanRequest{Name: theVehicle + "/visitPlan", OnDate: calendar(on)}))(t)
			}
			w.byStaff()
			all, plan := ask()
			if text := strings.ToLower(fmt.Sprint(all, plan)); on == "2026-11-25" && view == schedulev1.ScheduleView_SCHEDULE_VIEW_FULL &&
				(!strings.Contains(text, "laid up") || !strings.Contains(text, "as its owner says") && !strings.Contains(text, "as its readings show") || !strings.Contains(text, "rests from")) {
				t.Errorf("the works is not told of lay-up, season and visit beside it, so that this test shows nothing: %s", text)
			}
			w.byDealer(ferncombe, "ida")
			told, visits := ask()
			want := days(all)
			delete(want, "L01")
			delete(want, "L02")
			if got := days(told); fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("%s: days %v, want %v", on, got, want)
			}
			text := strings.ToLower(fmt.Sprint(told, visits, must(w.ListUseFacts(t.Context(), &schedulev1.ListUseFactsRequest{Parent: theVehicle}))(t),
				must(w.ListEvents(t.Context(), &schedulev1.ListEventsRequest{Parent: theVehicle}))(t)))
			for _, words := range []string{"lay_up", "laid", "lay-up", "put away", "rests", "rested", "season", "owner", "is back", "brought back", "in the south", "april", "october"} {
				for rest := text; ; {
					i := strings.Index(rest, words)
					if i < 0 {
						break
					}
					around := rest[max(0, i-60):min(len(rest), i+60)]
					rest = rest[i+len(words):]
					if words == "owner" && strings.HasPrefix(rest, "_check") || words == "april" || words == "october" {
						if words != "owner" && strings.Contains(around, "used "+words) {
							t.Errorf("%s, %v: a dealer is told %q", on, view, around)
						}
						continue
					}
					t.Errorf("%s, %v: a dealer is told %q", on, view, around)
				}
			}
			for _, it := range told.GetItems() {
				if !strings.HasSuffix(it.GetSentence(), ".") || strings.Contains(it.GetSentence(), "..") {
					t.Errorf("the sentence %q", it.GetSentence())
				}
				if view == schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC && (it.GetItem() != nil || len(it.GetReasons()) > 0) {
					t.Errorf("%s in the basic view has more than that", it.GetItemId())
				}
			}
			w.byStaff()
			if again, _ := ask(); fmt.Sprint(again) != fmt.Sprint(all) {
				t.Errorf("%s: what a dealer was told is told to the works", on)
			}
		}
	}
}
