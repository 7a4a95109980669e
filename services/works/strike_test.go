package works_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/telephone"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// What came back on the sheet of another vehicle is struck out: the schedule, the
// measured values and the next sheet stand as they stood, and the history still
// has it.
func TestAfterAStruckSheetTheVehicleStandsAsItStood(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	_, ctx, clients := start(t, works.Config{})
	importFiles(t, ctx, clients, demoFiles(t))
	desk, _ := staffOf(ctx)
	c, parent := clients.JobSheets, "vehicles/AM0147P"
	stands := func() []proto.Message {
		next := got(c.CreateJobSheet(desk, &jobsheetv1.CreateJobSheetRequest{Parent: parent, ItemIds: []string{"E01", "T02"}, VisitDate: dayProto(aldermoor.Today), ValidateOnly: true}))(t)
		next.CreateTime = nil
		return []proto.Message{
			got(clients.Schedules.GetSchedule(desk, &schedulev1.GetScheduleRequest{Name: parent + "/schedule"}))(t),
			got(clients.Schedules.ListMeasuredSeries(desk, &schedulev1.ListMeasuredSeriesRequest{Parent: parent, PageSize: 500}))(t), next,
		}
	}
	before := stands()
	sheet := got(c.CreateJobSheet(desk, &jobsheetv1.CreateJobSheetRequest{Parent: parent, ItemIds: []string{"E01", "T02"}, VisitDate: dayProto(aldermoor.Today), RequestId: uuid.NewString()}))(t)
	mm := func(value string) *vehiclev1.Quantity { return &vehiclev1.Quantity{Value: value, Unit: "mm"} }
	back := &jobsheetv1.JobReturn{ServiceDate: dayProto(aldermoor.Today), DoneBy: "Ned", Reading: &vehiclev1.Distance{EnteredValue: sheet.GetDistance().GetExpected().GetEnteredValue(), EnteredUnit: sheet.GetDistance().GetExpected().GetEnteredUnit()}}
	for _, j := range sheet.GetJobs() {
		done := &jobsheetv1.JobDone{Number: j.GetNumber(), Done: true}
		for _, v := range j.GetValues() {
			value := &vehiclev1.Quantity{Value: "0.09", Unit: v.GetUnit()}
			if v.GetUnit() != "mm" {
				value.Value = plausible(v)
			}
			done.Values = append(done.Values, &jobsheetv1.JobMeasured{Line: v.GetLine(), Value: value})
		}
		if j.GetItemId() == "T02" {
			done.Shims = []*schedulev1.ShimWork{{Position: "output-shaft-bearing", Characteristic: "end-float", Shims: []*schedulev1.ShimUsed{{Thickness: mm("0.51"), Count: 1}}, MeasuredAfter: mm("0.10")}}
		}
		back.Jobs = append(back.Jobs, done)
	}
	for _, d := range got(c.CheckJobReturn(desk, &jobsheetv1.CheckJobReturnRequest{Name: sheet.GetName(), JobReturn: back}))(t).GetDoubts() {
		if !d.GetCanConfirm() {
			t.Fatalf("cannot be confirmed: %v", d)
		}
		back.Confirmed = append(back.Confirmed, &jobsheetv1.JobConfirmation{Line: d.GetLine(), Text: "measured twice"})
	}
	sheet = got(c.ReturnJobSheet(desk, &jobsheetv1.ReturnJobSheetRequest{Name: sheet.GetName(), JobReturn: back, Etag: sheet.GetEtag(), RequestId: uuid.NewString()}))(t)
	for i, now := range stands() {
		if proto.Equal(now, before[i]) {
			t.Errorf("what came back changes nothing in %T", now)
		}
	}
	entry := entriesOf(t, ctx, clients, parent)
	for _, e := range entry {
		if e.GetJobSheet() == sheet.GetName() {
			if _, err := clients.Schedules.VoidServiceEntry(desk, &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Etag: e.GetEtag(), Reason: "alone"}); status.Code(err) != codes.FailedPrecondition {
				t.Errorf("the entry is struck out without its sheet: %v", err)
			}
		}
	}
	struck := got(c.VoidJobReturn(desk, &jobsheetv1.VoidJobReturnRequest{Name: sheet.GetName(), Reason: "of another vehicle", Etag: sheet.GetEtag(), RequestId: uuid.NewString()}))(t)
	if struck.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_STRUCK_OUT {
		t.Errorf("the sheet is %v", struck.GetState())
	}
	for i, now := range stands() {
		if diff := cmp.Diff(before[i], now, protocmp.Transform()); diff != "" {
			t.Errorf("%T is not as it was (-before +struck out):\n%s", now, diff)
		}
	}
	if all := entriesOf(t, ctx, clients, parent); len(all) != len(entry) {
		t.Errorf("of %d entries %d are to be read", len(entry), len(all))
	}
}

// Work on record wrongly is struck out at the desk with a reason, a sheet with all
// that came back on it, and a sheet that is in cannot be taken in a second time.
func TestWorkAndSheetsAreStruckOutAtTheDesk(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	data := t.TempDir()
	layDemo(t, data)
	d := openDeskOver(t, data)
	p := telephone.New(t, 1280, "light")
	d.enters(p, "bert", accessv1.Role_ROLE_SUPPORT)
	parent := "vehicles/" + aldermoor.TourSerial
	e := got(d.clients.Schedules.RecordService(d.ctx, &schedulev1.RecordServiceRequest{Parent: parent, ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: dayProto(aldermoor.Today), DoneBy: "Ned", Items: []*schedulev1.ItemDone{{ItemId: "E01"}}}}))(t)
	page := d.url + "/vehicles/" + aldermoor.TourSerial
	p.Open(page + "/service/" + e.GetName()[len(parent+"/serviceEntries/"):])
	p.Says("Where it was recorded wrongly")
	p.Enter("Why", "of another vehicle")
	p.Press("Strike it out")
	p.Says("The work is struck out", "of another vehicle", "by bert")
	saysNot(t, p, "Where it was recorded wrongly")
	p.Open(page + "/history")
	p.Says("struck out")

	sheet := got(d.clients.JobSheets.CreateJobSheet(d.ctx, &jobsheetv1.CreateJobSheetRequest{Parent: parent, ItemIds: []string{"E01"}, VisitDate: dayProto(aldermoor.Today), RequestId: uuid.NewString()}))(t)
	back := &jobsheetv1.JobReturn{ServiceDate: dayProto(aldermoor.Today), DoneBy: "Ned", Jobs: []*jobsheetv1.JobDone{{Number: 1, Done: true}}, Confirmed: []*jobsheetv1.JobConfirmation{{Line: "reading", Text: "the dial was out"}, {Line: "1.1", Text: "the gauge was out"}}}
	p.Open(page + "/sheets/1/return")
	p.Says("Look it over")
	got(d.clients.JobSheets.ReturnJobSheet(d.ctx, &jobsheetv1.ReturnJobSheetRequest{Name: sheet.GetName(), JobReturn: back, Etag: sheet.GetEtag(), RequestId: uuid.NewString()}))(t)
	p.Press("Look it over")
	p.Says("Sheet 1 of "+aldermoor.TourSerial+" is in already", "Nothing of a second return is on record")
	saysNot(t, p, "Put it on record")
	p.Press("What came back on it")
	p.Press("Service entry")
	p.Says("is struck out there")
	p.Press("Job sheet 1")
	p.Enter("Why", "entered twice")
	p.Press("Strike out what came back")
	p.Says("What came back is struck out, all of it.", "entered twice", "struck out")
	saysNot(t, p, "Strike out what came back")
}

// saysNot wants a page without some words.
func saysNot(t *testing.T, p *telephone.Telephone, words string) {
	t.Helper()
	if text := telephone.Ask[string](p, `document.querySelector("main").innerText`); strings.Contains(text, words) {
		t.Errorf("it says %q: %s", words, text)
	}
}
