package works_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// A returned sheet becomes the service entry that somebody would have recorded by
// hand, with its changes; what is outside its limits waits for a confirmation;
// the same request again is answered the same, and happens once.
func TestAReturnedSheetBecomesWhatWouldHaveBeenRecordedByHand(t *testing.T) {
	_, ctx, clients := start(t, works.Config{})
	importFiles(t, ctx, clients, demoFiles(t))
	desk, _ := staffOf(ctx)
	c, parent := clients.JobSheets, "vehicles/AM0147P"
	before := len(entriesOf(t, ctx, clients, parent))
	sheet := got(c.CreateJobSheet(desk, &jobsheetv1.CreateJobSheetRequest{Parent: parent, ItemIds: []string{"E01", "T02"}, VisitDate: dayProto(aldermoor.Today), RequestId: uuid.NewString()}))(t)
	writePDF(t, desk, c, sheet.GetName(), "small")

	back := &jobsheetv1.JobReturn{ServiceDate: dayProto(aldermoor.Today), DoneBy: "Ned", Reading: sheet.GetDistance().GetExpected()}
	back.Reading = &vehiclev1.Distance{EnteredValue: sheet.GetDistance().GetExpected().GetEnteredValue(), EnteredUnit: sheet.GetDistance().GetExpected().GetEnteredUnit()}
	want := &schedulev1.ServiceEntry{ServiceDate: back.ServiceDate, DoneBy: "Ned", Reading: back.Reading}
	for _, j := range sheet.GetJobs() {
		done, item := &jobsheetv1.JobDone{Number: j.GetNumber(), Done: true}, &schedulev1.ItemDone{ItemId: j.GetItemId()}
		for _, v := range j.GetValues() {
			value := &vehiclev1.Quantity{Value: v.GetUpper(), Unit: v.GetUnit()}
			if len(v.GetLast()) > 0 {
				value = v.GetLast()[0].GetValue()
			}
			done.Values = append(done.Values, &jobsheetv1.JobMeasured{Line: v.GetLine(), Value: value})
			item.Measured = append(item.Measured, &schedulev1.MeasuredValue{Characteristic: v.GetCharacteristic(), Position: v.GetPosition(), Value: value})
		}
		back.Jobs, want.Items = append(back.Jobs, done), append(want.Items, item)
	}

	bad := proto.CloneOf(back)
	bad.Jobs[len(bad.Jobs)-1].Values[0].Value = &vehiclev1.Quantity{Value: "0.9", Unit: "mm"}
	r := &jobsheetv1.ReturnJobSheetRequest{Name: sheet.GetName(), JobReturn: bad, Etag: sheet.GetEtag(), RequestId: uuid.NewString()}
	if _, err := c.ReturnJobSheet(desk, r); status.Code(err) != codes.InvalidArgument {
		t.Errorf("a value outside its limits is taken in unconfirmed: %v", err)
	}
	if n := len(entriesOf(t, ctx, clients, parent)); n != before {
		t.Errorf("a refused return left %d entries", n-before)
	}
	checked := got(c.CheckJobReturn(desk, &jobsheetv1.CheckJobReturnRequest{Name: sheet.GetName(), JobReturn: bad}))(t)
	for _, d := range checked.GetDoubts() {
		if !d.GetCanConfirm() {
			t.Errorf("cannot be confirmed: %v", d)
		}
		bad.Confirmed = append(bad.Confirmed, &jobsheetv1.JobConfirmation{Line: d.GetLine(), Text: "measured twice"})
	}
	if n := len(got(c.CheckJobReturn(desk, &jobsheetv1.CheckJobReturnRequest{Name: sheet.GetName(), JobReturn: bad}))(t).GetDoubts()); n != 0 {
		t.Errorf("%d doubts are left when all are confirmed", n)
	}

	by := got(clients.Schedules.RecordService(desk, &schedulev1.RecordServiceRequest{Parent: parent, ServiceEntry: want, ValidateOnly: true}))(t)
	back.Changes = []*buildv1.Change{{Kind: buildv1.ChangeKind_CHANGE_KIND_OVERHAUL, Component: &buildv1.Component{Position: "transfer-case"}}}
	r = &jobsheetv1.ReturnJobSheetRequest{Name: sheet.GetName(), JobReturn: back, Etag: sheet.GetEtag(), RequestId: uuid.NewString()}
	returned, err := c.ReturnJobSheet(desk, r)
	if err != nil {
		t.Fatalf("%v\n%v", err, status.Convert(err).Details())
	}
	if returned.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED || len(returned.GetJobReturn().GetRecords()) != 2 {
		t.Fatalf("returned %v with %v", returned.GetState(), returned.GetJobReturn().GetRecords())
	}
	if again := got(c.ReturnJobSheet(desk, r))(t); !proto.Equal(again, returned) {
		t.Errorf("asked again (-first +again):\n%s", cmp.Diff(returned, again, protocmp.Transform()))
	}
	entries := entriesOf(t, ctx, clients, parent)
	if len(entries) != before+1 {
		t.Fatalf("%d entries came of it", len(entries)-before)
	}
	for _, e := range entries {
		if e.GetName() == returned.GetJobReturn().GetRecords()[0] {
			if diff := cmp.Diff(by, e, protocmp.Transform(), protocmp.IgnoreFields(&schedulev1.ServiceEntry{}, "name", "etag", "create_time", "job_sheet")); diff != "" {
				t.Errorf("the entry is not what would have been recorded by hand (-hand +sheet):\n%s", diff)
			}
		}
	}
	if _, err := c.CancelJobSheet(desk, &jobsheetv1.CancelJobSheetRequest{Name: sheet.GetName(), Etag: returned.GetEtag()}); status.Code(err) != codes.FailedPrecondition {
		t.Errorf("a returned sheet is cancelled: %v", err)
	}
}

// Sixty items are a sheet too.
func TestASheetOfManyItemsPrints(t *testing.T) {
	_, ctx, clients := start(t, works.Config{})
	importFiles(t, ctx, clients, demoFiles(t))
	s := got(clients.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: "vehicles/AM0147P/schedule"}))(t)
	var items []string
	for _, i := range s.GetItems()[:min(60, len(s.GetItems()))] {
		items = append(items, i.GetItemId())
	}
	sheet := got(clients.JobSheets.CreateJobSheet(ctx, &jobsheetv1.CreateJobSheetRequest{Parent: "vehicles/AM0147P", ItemIds: items}))(t)
	if len(sheet.GetJobs()) != len(items) {
		t.Errorf("%d items are %d jobs", len(items), len(sheet.GetJobs()))
	}
	writePDF(t, ctx, clients.JobSheets, sheet.GetName(), "large")
}

// writePDF reads the paper; HALFSHAFT_SHEETS names a directory to look at it in.
func writePDF(t *testing.T, ctx context.Context, c jobsheetv1.JobSheetServiceClient, name, as string) {
	t.Helper()
	for _, paper := range []string{"A4", "Letter"} {
		stream := got(c.DownloadJobSheet(ctx, &jobsheetv1.DownloadJobSheetRequest{Name: name, Paper: paper}))(t)
		var pdf []byte
		for {
			chunk, err := stream.Recv()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			pdf = append(pdf, chunk.GetData()...)
		}
		if !bytes.HasPrefix(pdf, []byte("%PDF")) {
			t.Errorf("%s of %s is no PDF", paper, name)
		}
		if dir := os.Getenv("HALFSHAFT_SHEETS"); dir != "" {
			if err := os.WriteFile(dir+"/"+as+"-"+paper+".pdf", pdf, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
}

func entriesOf(t *testing.T, ctx context.Context, c works.Clients, parent string) []*schedulev1.ServiceEntry {
	t.Helper()
	return got(c.Schedules.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: parent, PageSize: 500}))(t).GetServiceEntries()
}

// The papers' golden files rest on sheets that the services made; this one holds
// them to it, and writes them anew with -update.
func TestTheSheetsThatArePrintedInTestsAreThoseOfTheDemo(t *testing.T) {
	_, ctx, clients := startDemo(t, works.Config{})
	for serial, items := range map[string][]string{"AM0147P": {"E01", "T02"}, "AM0101G": nil} {
		made := got(clients.JobSheets.CreateJobSheet(ctx, &jobsheetv1.CreateJobSheetRequest{Parent: "vehicles/" + serial, ItemIds: items}))(t)
		made.Etag = ""
		file := "../jobsheet/jobsheetprint/testdata/" + serial + ".json"
		if *update {
			if err := os.WriteFile(file, evenly(t, protojson.Format(made)), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		raw, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		want := &jobsheetv1.JobSheet{}
		if err := protojson.Unmarshal(raw, want); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, made, protocmp.Transform()); diff != "" {
			t.Errorf("%s (-file +made):\n%s", serial, diff)
		}
	}
}

// evenly writes JSON in one way: protojson changes its spaces from run to run.
func evenly(t *testing.T, text string) []byte {
	t.Helper()
	var all any
	if err := json.Unmarshal([]byte(text), &all); err != nil {
		t.Fatal(err)
	}
	out, err := json.MarshalIndent(all, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	return append(out, '\n')
}
