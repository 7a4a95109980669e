package reminderjob

import (
	"context"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwords"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// The history of every vehicle of the town: two readings that count and one
// that does not, an entry and one that was struck out, and a value that was
// measured twice.
func (schedules) ListReadings(context.Context, *schedulev1.ListReadingsRequest, ...grpc.CallOption) (*schedulev1.ListReadingsResponse, error) {
	reading := func(y, m, d int32, miles string, mm int64, state schedulev1.ReadingState) *schedulev1.Reading {
		return &schedulev1.Reading{
			ReadingDate: &date.Date{Year: y, Month: m, Day: d}, Value: &vehiclev1.Distance{EnteredValue: miles, EnteredUnit: "mi", Millimetres: mm},
			LifeDistance: &vehiclev1.Distance{Millimetres: mm}, State: state,
		}
	}
	const counts, doubtful = schedulev1.ReadingState_READING_STATE_COUNTED, schedulev1.ReadingState_READING_STATE_DOUBTFUL
	return &schedulev1.ListReadingsResponse{Readings: []*schedulev1.Reading{
		reading(2025, 12, 22, "1000", 1000*mile, counts), reading(2026, 1, 11, "1020", 1020*mile, counts),
		reading(2026, 6, 1, "9020", 9020*mile, doubtful), reading(2026, 9, 1, "1500", 1500*mile, counts),
	}}, nil
}

const mile = 1_609_344 // millimetres, NIST SP 811 appendix B

func (schedules) ListServiceEntries(context.Context, *schedulev1.ListServiceEntriesRequest, ...grpc.CallOption) (*schedulev1.ListServiceEntriesResponse, error) {
	done := []*schedulev1.ItemDone{{ItemId: "E01"}}
	return &schedulev1.ListServiceEntriesResponse{ServiceEntries: []*schedulev1.ServiceEntry{
		{ServiceDate: &date.Date{Year: 2025, Month: 5, Day: 1}, Items: done},
		{ServiceDate: &date.Date{Year: 2026, Month: 5, Day: 1}, Items: done, DoneBy: "Quay Garage"},
		{ServiceDate: &date.Date{Year: 2026, Month: 5, Day: 2}, Items: done, VoidReason: "entered twice"},
	}}, nil
}

func (schedules) ListMeasuredSeries(context.Context, *schedulev1.ListMeasuredSeriesRequest, ...grpc.CallOption) (*schedulev1.ListMeasuredSeriesResponse, error) {
	value := func(y int32, v string) *schedulev1.SeriesValue {
		return &schedulev1.SeriesValue{MeasuredDate: &date.Date{Year: y, Month: 5, Day: 1}, Value: &vehiclev1.Quantity{Value: v, Unit: "mm"}}
	}
	return &schedulev1.ListMeasuredSeriesResponse{MeasuredSeries: []*schedulev1.MeasuredSeries{
		{Characteristic: "end-float", Position: "output-shaft-bearing", Unit: "mm", Values: []*schedulev1.SeriesValue{value(2024, "0.05"), value(2026, "0.08")}, Limit: &schedulev1.MeasuredLimit{Upper: "0.10"}},
		{Characteristic: "backlash", Unit: "mm", Values: []*schedulev1.SeriesValue{value(2024, "0.2")}},
	}}, nil
}

func (schedules) GetVisitPlan(context.Context, *schedulev1.GetVisitPlanRequest, ...grpc.CallOption) (*schedulev1.VisitPlan, error) {
	task := func(y int32, id string) *schedulev1.VisitTask {
		return &schedulev1.VisitTask{ItemId: id, Title: "Service " + id, DueDate: &date.Date{Year: y, Month: 6, Day: 1}}
	}
	return &schedulev1.VisitPlan{Visits: []*schedulev1.Visit{{Tasks: []*schedulev1.VisitTask{task(2028, "T03"), task(2027, "E01")}}}}, nil
}

// agree makes somebody want the letter at the year's end.
func agree(p *ownerv1.Person) {
	p.Consents = append(p.Consents, &ownerv1.Consent{
		Purpose: ownerv1.Purpose_PURPOSE_YEAR_LETTER, Given: true, ConsentTime: timestamppb.New(noon),
	})
}

func TestTheLetterOfTheYearGoesOnceInItsTimeToWhoeverWantsIt(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", vehicle.MustDate(2027, 11, 1)))
	agree(e.town.owner(serial(1), "p1"))
	e.town.owner(serial(1), "p2") // did not agree
	e.now = time.Date(2026, 12, 26, 12, 0, 0, 0, time.UTC)
	e.want(t, "on 26 December", "")
	e.now = time.Date(2026, 12, 27, 8, 0, 0, 0, time.UTC)
	e.want(t, "on the 27th before their hours", "held 1")
	e.now = time.Date(2026, 12, 27, 12, 0, 0, 0, time.UTC)
	r := e.want(t, "in their hours", "claimed 1 sent 1")
	if n := r.Notices[0]; n.Purpose != reminder.YearLetter || n.Person != "p1" || len(e.Store.Recent("p1", noon, e.now)) != 0 {
		t.Errorf("told %+v; counted towards the limit: %v", n, e.Store.Recent("p1", noon, e.now))
	}
	mail := string(e.mails.all()[0].data)
	if !strings.Contains(mail, "Quay Garage") || !strings.Contains(mail, "0.08") {
		t.Errorf("the year is not in it:\n%s", mail)
	}
	e.now = time.Date(2027, 1, 20, 12, 0, 0, 0, time.UTC)
	e.want(t, "no second one", "")
	// Somebody who agrees in January has theirs, by 31 January.
	agree(e.town.people["people/p2"])
	e.now = time.Date(2027, 2, 1, 12, 0, 0, 0, time.UTC)
	e.want(t, "on 1 February it is too late", "")
	e.now = time.Date(2027, 1, 31, 12, 0, 0, 0, time.UTC)
	e.want(t, "on 31 January", "claimed 1 sent 1")
}

func TestTheHistoryOfAYear(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", today))
	got, err := e.yearOf(t.Context(), reminder.Draft{Vehicle: reminder.Vehicle{Serial: serial(1)}, Lines: []reminder.Line{{Item: reminder.YearItem(2026)}}})
	if err != nil {
		t.Fatal(err)
	}
	entered := func(miles string, mm int64) vehicle.Entered {
		v, err := vehiclewire.Entered(&vehiclev1.Distance{EnteredValue: miles, EnteredUnit: "mi", Millimetres: mm})
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	want := &reminderwords.Year{
		Year: 2026,
		// 20 miles in the 20 days from 22 December are 10 by 1 January.
		Driven: (1500 - 1010) * mile,
		Readings: []reminderwords.Reading{
			{Date: vehicle.MustDate(2026, 1, 11), Value: entered("1020", 1020*mile)}, {Date: vehicle.MustDate(2026, 9, 1), Value: entered("1500", 1500*mile)},
		},
		Works: []reminderwords.Work{{Date: vehicle.MustDate(2026, 5, 1), Item: "E01", Title: "Service E01", Workshop: "Quay Garage"}},
		Measured: []reminderwords.Change{{
			Characteristic: "end-float", Position: "output-shaft-bearing", Unit: "mm", Before: "0.05", Now: "0.08", Upper: "0.10",
			BeforeDate: vehicle.MustDate(2024, 5, 1), NowDate: vehicle.MustDate(2026, 5, 1),
		}},
		Next: []reminderwords.Coming{{Item: "E01", Title: "Service E01", ActBy: vehicle.MustDate(2027, 6, 1)}},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestALetterOfTheYearOnPaper(t *testing.T) {
	e := newExchange(t)
	e.town.vehicle(serial(1), item("E01", vehicle.MustDate(2027, 11, 1)))
	p := e.reachable(serial(1), "p1", phoneOne, wayText, wayLetter)
	agree(p)
	e.now = time.Date(2026, 12, 28, 3, 0, 0, 0, time.UTC) // nobody is woken by a letter
	r := e.want(t, "by letter, for no text message holds it", "claimed 1 letters 1")
	var sheet reminderwords.Sheet
	body, err := e.Body(t.Context(), r.Notices[0])
	if err != nil || json.Unmarshal(body, &sheet) != nil || !strings.Contains(string(body), "2026") {
		t.Errorf("the sheet is %s, %v", body, err)
	}
}
