package schedulerpc_test

import (
	"fmt"
	"strings"
	"testing"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

func TestMonthsThroughTheAPI(t *testing.T) {
	w := start(t, "2000-01-01", every("M1", "", 1), every("M2", "", 2), every("M3", "", 3), every("M4", "", 4),
		every("M5", "", 5), every("M6", "", 6), every("M12", "", 12), every("M48", "", 48))
	for _, c := range []struct{ done, item, due string }{
		{"2007-03-31", "M1", "2007-04-30"},  // checks.md O-20: java.time LocalDate.plusMonths
		{"2008-02-29", "M12", "2009-02-28"}, // O-21: java.time LocalDate.plusYears
		{"2024-02-29", "M12", "2025-02-28"}, // O-21, computed
		// O-21 prints 2028-02-28 here, against its own rule (F15: anchored) and
		// its source: LocalDate.plusMonths keeps the 29th where it exists.
		{"2024-02-29", "M48", "2028-02-29"},
		{"2025-10-31", "M1", "2025-11-30"}, // O-22: time.Time.AddDate would say 1 December
		{"2026-01-31", "M1", "2026-02-28"}, // O-23, computed: anchored, not chained
		{"2026-01-31", "M2", "2026-03-31"},
		{"2026-01-31", "M3", "2026-04-30"},
		{"2026-01-31", "M4", "2026-05-31"},
		{"2026-01-31", "M5", "2026-06-30"},
		{"2026-01-31", "M6", "2026-07-31"},
	} {
		w.done(c.done, c.item)
		if got := iso(w.item(c.done, c.item).GetDueDate()); got != c.due {
			t.Errorf("%s done on %s: due %s, want %s", c.item, c.done, got, c.due)
		}
	}
}

func TestWhicheverFirstThroughTheAPI(t *testing.T) {
	// checks.md O-66, computed: oil 3,000 miles or 12 months, last on 2026-05-01.
	for _, c := range []struct {
		name, read, due, byDistance string
		binding                     schedulev1.Limb
	}{
		{"1,200 miles a year", "4800", "2027-05-01", "2028-10-30", schedulev1.Limb_LIMB_TIME},
		{"9,000 miles a year", "36000", "2026-08-30", "2026-08-30", schedulev1.Limb_LIMB_DISTANCE},
	} {
		w := start(t, "2022-05-01", every("E01", "3000", 12))
		w.read("2026-05-01", c.read) // four years after the delivery at 0
		w.done("2026-05-01", "E01")
		got := w.item("2026-05-01", "E01")
		if iso(got.GetDueDate()) != c.due || iso(got.GetDistanceDueDate()) != c.byDistance || got.GetBinding() != c.binding {
			t.Errorf("%s: due %s by %s, distance on %s; want %s by %s, %s", c.name, iso(got.GetDueDate()), got.GetBinding(),
				iso(got.GetDistanceDueDate()), c.due, c.binding, c.byDistance)
		}
	}
}

func TestTheAnswerSaysWhyInReasonsAndOneSentence(t *testing.T) {
	w := start(t, "2024-05-01", every("E01", "3000", 12))
	w.read("2025-05-01", "1200")
	w.read("2026-05-01", "2400")
	entry := w.done("2026-05-01", "E01")
	w.read("2026-11-01", "2580")
	got := w.item("2026-11-01", "E01")
	want := "Item E01 is due on 1 May 2027: 12 months since it was last done on 1 May 2026; about 180 miles driven, of 3,000."
	if got.GetSentence() != want {
		t.Errorf("the sentence is\n%s\nwant\n%s", got.GetSentence(), want)
	}
	if r := got.GetReasons(); r[0].GetRule() != "TIME_LIMB_FIRST" || r[1].GetRule() != "LAST_DONE" || r[1].GetRecord() != entry.GetName() {
		t.Errorf("the reasons are %v", r)
	}
	if got.GetCycle() != "E01.2026-05-01" || got.GetState() != schedulev1.DueState_DUE_STATE_NOT_YET || got.GetLastDoneEntry() != entry.GetName() {
		t.Errorf("cycle %s, state %s, entry %s", got.GetCycle(), got.GetState(), got.GetLastDoneEntry())
	}
	s := w.schedule("2026-11-01")
	if s.GetProgramme() != "programmes/packhorse/versions/1" || !s.GetSample() || s.GetPace().GetCountedReadings() != 3 ||
		s.GetPace().GetUnit() != "mi" || s.GetPace().GetLifeDistance().GetMillimetres() != 2580*int64(vehicle.Mile) {
		t.Errorf("the schedule's head is %v", s)
	}
}

func TestAReShimReportedByTheBuildServiceBeginsTheBeddingInAgain(t *testing.T) {
	float := every("T02", "12000", 24)
	float.Position, float.First = "output-shaft-bearing", &schedulev1.Limit{Distance: miles("500"), Months: 6}
	float.AppliesWhen = `"transfer-case" in fitted && "shimmed-output-bearing" in fitted["transfer-case"]`
	w := start(t, "2014-04-01", float)
	w.read("2025-03-01", "9000")
	w.done("2014-08-01", "T02")
	w.done("2024-05-01", "T02")
	must(w.builds.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/AM0147P", Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_OVERHAUL, ChangeDate: calendar("2025-03-01"), Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE,
		Component: &buildv1.Component{Position: "output-shaft-bearing"}, Reading: miles("9000"), Reason: "re-shimmed"}}))(t)
	got := w.item("2025-03-02", "T02") // the caller reads what the build service was told just now
	if iso(got.GetDueDate()) != "2025-09-01" || !got.GetBeddingIn() || got.GetDueDistance().GetMillimetres() != 9500*int64(vehicle.Mile) {
		t.Errorf("due %s at %d mm, bedding-in %v; want 2025-09-01 at 9,500 miles, true", iso(got.GetDueDate()),
			got.GetDueDistance().GetMillimetres(), got.GetBeddingIn())
	}
	// On a day before the re-shim nothing of it is known.
	if got := w.item("2025-02-01", "T02"); iso(got.GetDueDate()) != "2026-05-01" || got.GetBeddingIn() {
		t.Errorf("before the re-shim due %s", iso(got.GetDueDate()))
	}
}

func TestTheConfigurationOfTheDayDecidesWhichItemsThereAre(t *testing.T) {
	winch := every("X04", "", 12)
	winch.AppliesWhen, winch.Position = `"winch" in fitted`, "winch"
	w := start(t, "2020-01-01", every("E01", "", 12), winch)
	must(w.builds.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: "builds/AM0147P", Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_OPTION_ADDED, ChangeDate: calendar("2024-06-01"), Option: "winch", Source: buildv1.ChangeSource_CHANGE_SOURCE_WORKS, Reason: "ordered"}}))(t)
	if n := len(w.schedule("2024-05-31").GetItems()); n != 1 {
		t.Errorf("%d items before the winch, want 1", n)
	}
	if got := w.item("2024-06-01", "X04"); iso(got.GetDueDate()) != "2025-06-01" {
		t.Errorf("the winch is due %s, want 2025-06-01", iso(got.GetDueDate()))
	}
}

func TestTheVersionInForceOnTheDayIsUsed(t *testing.T) {
	w := start(t, "2020-01-01", every("E12", "", 60))
	if got := iso(w.item("2024-06-01", "E12").GetDueDate()); got != "2025-01-01" {
		t.Errorf("before the second version due %s", got)
	}
	must(w.CreateProgramme(t.Context(), &schedulev1.CreateProgrammeRequest{Programme: programme(2, "2024-06-01", every("E12", "", 48))}))(t)
	for on, want := range map[string]string{"2024-05-31": "2025-01-01", "2024-06-01": "2024-06-01"} {
		if got := iso(w.item(on, "E12").GetDueDate()); got != want {
			t.Errorf("on %s due %s, want %s", on, got, want)
		}
	}
}

func TestListDueGivesTheMostUrgentFirstPageByPage(t *testing.T) {
	check := every("W02", "", 1)
	check.OwnerCheck = true
	w := start(t, "2025-09-01", every("B01", "", 12), check) // due 2026-09-01
	for serial, delivered := range map[string]string{"AM0148N": "2025-12-10", "AM0149L": "2024-12-10", "AM0150Z": "2026-06-01"} {
		must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: built(serial, delivered)}))(t)
	}
	var got []string
	token := ""
	for range 10 {
		r := must(w.ListDue(t.Context(), &schedulev1.ListDueRequest{WithinDays: 60, OnDate: calendar("2026-11-25"), PageSize: 1, PageToken: token}))(t)
		for _, s := range r.GetSchedules() {
			got = append(got, s.GetName()+" "+s.GetItems()[0].GetItemId()+" "+iso(s.GetItems()[0].GetDueDate()))
			if len(s.GetItems()) != 1 {
				t.Errorf("%s has %d items, want the one that a workshop does", s.GetName(), len(s.GetItems()))
			}
		}
		if token = r.GetNextPageToken(); token == "" {
			break
		}
	}
	want := "vehicles/AM0149L/schedule B01 2025-12-10|vehicles/AM0147P/schedule B01 2026-09-01|vehicles/AM0148N/schedule B01 2026-12-10"
	if text := strings.Join(got, "|"); text != want {
		t.Errorf("got %s\nwant %s", text, want)
	}
	// Work recorded is silence.
	w.done("2026-11-20", "B01")
	r := must(w.ListDue(t.Context(), &schedulev1.ListDueRequest{WithinDays: 60, OnDate: calendar("2026-11-25")}))(t)
	if len(r.GetSchedules()) != 2 {
		t.Errorf("%d vehicles after the work, want 2", len(r.GetSchedules()))
	}
}

func TestTheBasicViewLeavesOutWhatTheProgrammeSaysAndWhy(t *testing.T) {
	w := start(t, "2025-09-01", every("B01", "", 12))
	const basic, full = schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC, schedulev1.ScheduleView_SCHEDULE_VIEW_FULL
	get := func(view schedulev1.ScheduleView) *schedulev1.ItemStatus {
		return must(w.GetSchedule(t.Context(), &schedulev1.GetScheduleRequest{Name: "vehicles/AM0147P/schedule", View: view}))(t).GetItems()[0]
	}
	list := func(view schedulev1.ScheduleView) *schedulev1.ItemStatus {
		r := must(w.ListDue(t.Context(), &schedulev1.ListDueRequest{WithinDays: 60, OnDate: calendar("2026-11-25"), View: view}))(t)
		return r.GetSchedules()[0].GetItems()[0]
	}
	for name, c := range map[string]struct {
		got  *schedulev1.ItemStatus
		full bool
	}{
		"get, unset": {get(0), true}, "get, basic": {get(basic), false}, "get, full": {get(full), true},
		"get again, unset": {get(0), true},
		"list, unset":      {list(0), false}, "list, basic": {list(basic), false}, "list, full": {list(full), true},
	} {
		if has := c.got.GetItem() != nil && len(c.got.GetReasons()) > 0; has != c.full {
			t.Errorf("%s: item and reasons are there: %v, want %v", name, has, c.full)
		}
		if c.got.GetSentence() == "" || iso(c.got.GetDueDate()) != "2026-09-01" {
			t.Errorf("%s: got %q, due %s", name, c.got.GetSentence(), iso(c.got.GetDueDate()))
		}
	}
	_, err := w.GetSchedule(t.Context(), &schedulev1.GetScheduleRequest{Name: "vehicles/AM0147P/schedule", View: 7})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
}

func TestUnknownVehiclesAndBadRequestsAreRefused(t *testing.T) {
	w := start(t, "2020-01-01", every("E01", "", 12))
	_, err := w.GetSchedule(t.Context(), &schedulev1.GetScheduleRequest{Name: "vehicles/AM0148N/schedule"})
	refused(t, err, fault.NotFound, "BUILD_NOT_FOUND")
	_, err = w.GetSchedule(t.Context(), &schedulev1.GetScheduleRequest{Name: "vehicles/AM0147Q/schedule"})
	refused(t, err, fault.Invalid, "SERIAL_CHECK")
	_, err = w.ListDue(t.Context(), &schedulev1.ListDueRequest{WithinDays: -1})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
}

func TestADeclaredSeasonCountsOnlyItsMonths(t *testing.T) {
	// checks.md O-67, computed there with F7: 1,200 miles a year from June to
	// August only, last done on 1 September 2026, due 1,500 miles on.
	w := start(t, "2018-09-01", every("E01", "1500", 0))
	must(w.DeclareUse(t.Context(), &schedulev1.DeclareUseRequest{Parent: theVehicle, UseFact: &schedulev1.UseFact{
		Kind: schedulev1.UseKind_USE_KIND_SEASONAL, StartDate: calendar("2018-09-01"), FirstMonth: 6, LastMonth: 8}}))(t)
	w.today("2026-09-02")
	w.read("2018-09-01", "0")
	for year := range 8 { // one reading a year shows no season
		w.read(fmt.Sprintf("%d-09-01", 2019+year), fmt.Sprint(1200*(year+1)))
	}
	w.done("2026-09-01", "E01")
	item := w.item("2026-09-02", "E01")
	if got := iso(item.GetDueDate()); got != "2028-06-24" {
		t.Errorf("due %s, want 2028-06-24; at an even rate it would be 2027-12-01", got)
	}
	if early, late := iso(item.GetDistanceEarlyDate()), iso(item.GetDistanceLateDate()); early < "2027-06-01" || early > "2028-06-24" || late < "2028-06-24" {
		t.Errorf("between %s and %s", early, late)
	}
	for name, u := range map[string]*schedulev1.UseFact{
		"a season without months": {Kind: schedulev1.UseKind_USE_KIND_SEASONAL, StartDate: calendar("2026-09-01")},
		"a thirteenth month":      {Kind: schedulev1.UseKind_USE_KIND_SEASONAL, StartDate: calendar("2026-09-01"), FirstMonth: 6, LastMonth: 13},
		"months of a lay-up":      {Kind: schedulev1.UseKind_USE_KIND_LAID_UP, StartDate: calendar("2026-09-01"), FirstMonth: 6, LastMonth: 8},
	} {
		if _, err := w.DeclareUse(t.Context(), &schedulev1.DeclareUseRequest{Parent: theVehicle, UseFact: u}); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
}
