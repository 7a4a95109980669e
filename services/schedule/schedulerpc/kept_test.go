package schedulerpc_test

import (
	"fmt"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/schedule/schedulerpc"
)

// asked is everything that is kept, as somebody is told it about a day.
func (w *works) asked(t testing.TB, on string) map[string]proto.Message {
	all := map[string]proto.Message{}
	ctx := t.Context()
	for _, vehicle := range []string{theVehicle, otherVehicle} {
		for _, view := range []schedulev1.ScheduleView{1, 2, 3, 4} {
			all[vehicle+" "+view.String()] = must(w.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: vehicle + "/schedule", OnDate: calendar(on), View: view}))(t)
		}
		for _, months := range []int32{12, 24} {
			all[fmt.Sprint(vehicle, " visits ", months)] = must(w.GetVisitPlan(ctx, &schedulev1.GetVisitPlanRequest{Name: vehicle + "/visitPlan", OnDate: calendar(on), Months: months}))(t)
		}
		for _, near := range []bool{false, true} {
			all[fmt.Sprint(vehicle, " measured ", near)] = must(w.ListMeasuredSeries(ctx, &schedulev1.ListMeasuredSeriesRequest{Parent: vehicle, OnDate: calendar(on), NearLimitOnly: near}))(t)
		}
		for _, r := range []*schedulev1.ListServiceEntriesRequest{{}, {LatestFirst: true, PageSize: 3}, {WithoutItems: true}} {
			r.Parent = vehicle
			all[fmt.Sprint(vehicle, " entries ", r.GetLatestFirst(), r.GetWithoutItems())] = must(w.ListServiceEntries(ctx, r))(t)
		}
		all[vehicle+" readings"] = must(w.ListReadings(ctx, &schedulev1.ListReadingsRequest{Parent: vehicle}))(t)
	}
	all["doubtful"] = must(w.ListReadings(ctx, &schedulev1.ListReadingsRequest{Parent: "vehicles/-"}))(t)
	all["due"] = must(w.ListDue(ctx, &schedulev1.ListDueRequest{WithinDays: 400, OnDate: calendar(on), View: schedulev1.ScheduleView_SCHEDULE_VIEW_FULL}))(t)
	return all
}

const otherVehicle = "vehicles/AM0103C"

// change makes one change of any kind.
func (w *works) change(r *rapid.T, t testing.TB, version *int) string {
	ctx, vehicle := t.Context(), rapid.SampledFrom([]string{theVehicle, otherVehicle}).Draw(r, "vehicle")
	on := day("2019-01-01").AddDays(rapid.IntRange(0, 2500).Draw(r, "day")).String()
	mi := fmt.Sprint(rapid.IntRange(0, 60_000).Draw(r, "miles"))
	value := quantity(fmt.Sprintf("0.%02d mm", rapid.IntRange(3, 30).Draw(r, "value")))
	switch kind := rapid.SampledFrom([]string{"reading", "service", "measured", "struck out", "use", "overhaul", "built", "programme", "clock"}).Draw(r, "change"); kind {
	case "reading":
		_, err := w.RecordReading(ctx, &schedulev1.RecordReadingRequest{Parent: vehicle, Reading: &schedulev1.Reading{ReadingDate: calendar(on), Value: miles(mi)}})
		return note(kind, err)
	case "service", "measured":
		done := &schedulev1.ItemDone{ItemId: "T02"}
		if kind == "measured" {
			done.Measured = []*schedulev1.MeasuredValue{{Characteristic: "end-float", Value: value}}
		}
		_, err := w.RecordService(ctx, &schedulev1.RecordServiceRequest{Parent: vehicle, ServiceEntry: &schedulev1.ServiceEntry{
			ServiceDate: calendar(on), Reading: miles(mi), Items: []*schedulev1.ItemDone{done}}})
		return note(kind, err)
	case "struck out":
		entries := must(w.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: vehicle}))(t).GetServiceEntries()
		if len(entries) == 0 {
			return "nothing to strike out"
		}
		e := rapid.SampledFrom(entries).Draw(r, "entry")
		_, err := w.VoidServiceEntry(ctx, &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Etag: e.GetEtag(), Reason: "a slip"})
		return note(kind, err)
	case "use":
		_, err := w.DeclareUse(ctx, &schedulev1.DeclareUseRequest{Parent: vehicle, UseFact: &schedulev1.UseFact{
			Kind: schedulev1.UseKind_USE_KIND_LAID_UP, StartDate: calendar(on), EndDate: calendar(day(on).AddDays(90).String())}})
		return note(kind, err)
	case "overhaul":
		c := overhaulOf("output-shaft-bearing", on)
		c.Source = buildv1.ChangeSource_CHANGE_SOURCE_SERVICE
		_, err := w.builds.RecordChange(ctx, &buildv1.RecordChangeRequest{Parent: "builds/" + vehicle[len("vehicles/"):], Change: c})
		return note(kind, err)
	case "built":
		b := must(w.builds.GetBuild(ctx, &buildv1.GetBuildRequest{Name: "builds/" + vehicle[len("vehicles/"):]}))(t)
		b.Measurements = []*buildv1.Measurement{{Position: "output-shaft-bearing", Characteristic: "end-float", Value: value, MeasuredDate: b.GetBuildDate()}}
		_, err := w.builds.AmendBuild(ctx, &buildv1.AmendBuildRequest{Build: b, Reason: "measured again"})
		return note(kind, err)
	case "programme":
		items := append(plugs(), endFloat(fmt.Sprintf("0.%02d", rapid.IntRange(16, 40).Draw(r, "action"))), every("E01", mi, 12))
		_, err := w.CreateProgramme(ctx, &schedulev1.CreateProgrammeRequest{Programme: programme(*version, day("2020-01-01").AddDays(60**version).String(), items...)})
		if err == nil {
			*version++
		}
		return note(kind, err)
	default:
		w.today(day("2026-11-25").AddDays(rapid.IntRange(0, 30).Draw(r, "today")).String())
		return kind
	}
}

// note says what was done, or that it was refused, which is a change too: none.
func note(kind string, err error) string {
	if err != nil {
		return kind + ", refused: " + err.Error()
	}
	return kind
}

// What is kept is what would be worked out afresh, after any changes in any
// order, whoever asked before; and a change is seen by the next who asks.
func TestWhatIsKeptIsWhatWouldBeWorkedOutAfresh(t *testing.T) {
	racetest.Skip(t, "one answer after the other")
	made, version := map[string]int{}, 2
	w := start(t, "2018-06-01", append(plugs(), endFloat("0.22"), every("E01", "3000", 12))...)
	must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: built("AM0103C", "2019-03-01")}))(t)
	rapid.Check(t, func(r *rapid.T) { // all on one works: its histories grow
		for range rapid.IntRange(1, 2).Draw(r, "changes") {
			kind := w.change(r, t, &version)
			made[strings.SplitN(kind, ":", 2)[0]]++
			on := rapid.SampledFrom([]string{"2026-11-25", "2024-05-01"}).Draw(r, "on")
			first, again := w.asked(t, on), w.asked(t, on)
			w.service.Forget()
			for what, fresh := range w.asked(t, on) {
				if !proto.Equal(first[what], fresh) || !proto.Equal(again[what], fresh) {
					r.Fatalf("%s is kept as\n%v\nand\n%v\nbut is\n%v", what, first[what], again[what], fresh)
				}
			}
			w.asked(t, on) // so that the next change finds something kept
		}
	})
	for what, n := range made {
		t.Log(n, what)
	}
}

// A limited caller gets a copy: taking out what is not for them changes nothing
// for the next.
func TestWhatIsTakenOutForOneIsThereForTheNext(t *testing.T) {
	w := start(t, "2018-06-01", endFloat("0.22"))
	desk := w.caller.Load()
	w.caller.Store(&access.Caller{Role: access.Owner, Bearer: "owner", Person: "people/p0001"})
	must(w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: calendar("2026-05-01"), Reading: miles("900"), DoneBy: "Somebody", Note: "said on the telephone", OwnerStatement: true,
		Items: []*schedulev1.ItemDone{{ItemId: "T02", Note: "noisy"}}}}))(t)
	w.read("2026-06-01", "950")
	w.caller.Store(desk)
	must(w.DeclareUse(t.Context(), &schedulev1.DeclareUseRequest{Parent: theVehicle, UseFact: &schedulev1.UseFact{
		Kind: schedulev1.UseKind_USE_KIND_LAID_UP, StartDate: calendar("2026-12-01"), EndDate: calendar("2027-03-01")}}))(t)
	before := w.asked1(t)
	w.caller.Store(&access.Caller{Role: access.Dealer, Bearer: "dealer", Organisation: "organisations/other"})
	if theirs := must(w.ListServiceEntries(t.Context(), &schedulev1.ListServiceEntriesRequest{Parent: theVehicle}))(t).GetServiceEntries()[0]; theirs.GetNote() != "" || theirs.GetItems()[0].GetNote() != "" {
		t.Errorf("a dealer reads %v", theirs)
	}
	w.asked1(t)
	w.caller.Store(desk)
	for what, now := range w.asked1(t) {
		if !proto.Equal(before[what], now) {
			t.Errorf("%s was\n%v\nand after a dealer asked it is\n%v", what, before[what], now)
		}
	}
	if now := must(w.ListServiceEntries(t.Context(), &schedulev1.ListServiceEntriesRequest{Parent: theVehicle}))(t).GetServiceEntries()[0]; now.GetNote() == "" {
		t.Errorf("the desk reads %v", now)
	}
}

// asked1 is asked of one vehicle without what dealers may not ask.
func (w *works) asked1(t testing.TB) map[string]proto.Message {
	ctx := t.Context()
	return map[string]proto.Message{
		"schedule": must(w.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: theVehicle + "/schedule", View: 4}))(t),
		"whole":    must(w.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: theVehicle + "/schedule"}))(t),
		"visits":   must(w.GetVisitPlan(ctx, &schedulev1.GetVisitPlanRequest{Name: theVehicle + "/visitPlan"}))(t),
		"entries":  must(w.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: theVehicle}))(t),
		"readings": must(w.ListReadings(ctx, &schedulev1.ListReadingsRequest{Parent: theVehicle}))(t),
		"doubtful": must(w.ListReadings(ctx, &schedulev1.ListReadingsRequest{Parent: "vehicles/-"}))(t),
		"near":     must(w.ListMeasuredSeries(ctx, &schedulev1.ListMeasuredSeriesRequest{Parent: theVehicle, NearLimitOnly: true}))(t),
		"measured": must(w.ListMeasuredSeries(ctx, &schedulev1.ListMeasuredSeriesRequest{Parent: theVehicle}))(t),
	}
}

// However many vehicles and days are asked about, no more is kept than bounded.
func TestNoMoreIsKeptThanBounded(t *testing.T) {
	w := start(t, "2018-06-01", endFloat("0.22"))
	for n := range schedulerpc.MostAnswers + 40 {
		on := day("2026-01-01").AddDays(n).String()
		must(w.GetSchedule(t.Context(), &schedulev1.GetScheduleRequest{Name: theVehicle + "/schedule", OnDate: calendar(on), View: 4}))(t)
		must(w.ListMeasuredSeries(t.Context(), &schedulev1.ListMeasuredSeriesRequest{Parent: theVehicle, OnDate: calendar(on), NearLimitOnly: true}))(t)
		if n < schedulerpc.MostHistories+20 {
			w.read(on, fmt.Sprint(100+n))
		}
	}
	answers, histories := w.service.Kept()
	if answers != schedulerpc.MostAnswers || histories != schedulerpc.MostHistories {
		t.Errorf("%d answers and %d histories are kept, want %d and %d", answers, histories, schedulerpc.MostAnswers, schedulerpc.MostHistories)
	}
}
