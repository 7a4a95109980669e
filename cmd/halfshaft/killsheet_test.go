package main

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/testdata/aldermoor"
)

// TestAReturnedSheetIsWholeOrNotThereAfterAKill kills a serving process while it
// takes a returned sheet in, a little later each time, so that the kill falls
// before the mark, between the steps and after them. After the next start the
// return is on record, entry and change once each, or nothing of it is; one that
// was answered is on record.
func TestAReturnedSheetIsWholeOrNotThereAfterAKill(t *testing.T) {
	data := demoData(t)
	outcomes := map[string]int{}
	for _, pause := range []time.Duration{500, 1500, 2500, 3500, 4500, 5500, 6500, 7500, 8500, 10_000, 12_000, 30_000} {
		p := serve(t, data, "--date", aldermoor.Today.String())
		s := p.session(t)
		ctx := context.Background()
		sheet, err := s.JobSheets.CreateJobSheet(ctx, &jobsheetv1.CreateJobSheetRequest{Parent: "vehicles/AM0147P", ItemIds: []string{"T01"}, RequestId: uuid.NewString()})
		if err != nil {
			t.Fatal(err)
		}
		note := "returned with " + sheet.GetName()
		request := &jobsheetv1.ReturnJobSheetRequest{Name: sheet.GetName(), Etag: sheet.GetEtag(), RequestId: uuid.NewString(), JobReturn: &jobsheetv1.JobReturn{
			ServiceDate: vehiclewire.DateProto(aldermoor.Today), DoneBy: "Ned", Note: note, Jobs: []*jobsheetv1.JobDone{{Number: 1, Done: true}},
			Reading: &vehiclev1.Distance{EnteredValue: "1600", EnteredUnit: "mi"},
			Changes: []*buildv1.Change{{Kind: buildv1.ChangeKind_CHANGE_KIND_OVERHAUL, Reason: note, Component: &buildv1.Component{Position: "transfer-case"}}},
		}}
		doubts, err := s.JobSheets.CheckJobReturn(ctx, &jobsheetv1.CheckJobReturnRequest{Name: sheet.GetName(), JobReturn: request.GetJobReturn()})
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range doubts.GetDoubts() {
			request.JobReturn.Confirmed = append(request.JobReturn.Confirmed, &jobsheetv1.JobConfirmation{Line: d.GetLine(), Text: "looked at again"})
		}
		answered := make(chan bool, 1)
		go func() {
			_, err := s.JobSheets.ReturnJobSheet(ctx, request)
			answered <- err == nil
		}()
		time.Sleep(pause * time.Microsecond) // the moment of the kill
		p.kill()
		acknowledged := <-answered
		s.Close()

		p = serve(t, data, "--date", aldermoor.Today.String())
		s = p.session(t)
		now := onRecord(t, s.JobSheets, sheet.GetName())
		entries, changes := 0, 0
		all, err := s.Schedules.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: "vehicles/AM0147P", PageSize: 500})
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range all.GetServiceEntries() {
			if strings.HasPrefix(e.GetNote(), note+"\n") || e.GetNote() == note {
				entries++
			}
		}
		made, err := s.Builds.ListChanges(ctx, &buildv1.ListChangesRequest{Parent: "builds/AM0147P", PageSize: 500})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range made.GetChanges() {
			if c.GetReason() == note {
				changes++
			}
		}
		switch now.GetState() {
		case jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED:
			if entries != 1 || changes != 1 {
				t.Errorf("killed after %d µs: returned, with %d entries and %d changes", pause, entries, changes)
			}
		case jobsheetv1.JobSheetState_JOB_SHEET_STATE_OPEN:
			if entries+changes != 0 || acknowledged {
				t.Errorf("killed after %d µs: open, with %d entries and %d changes; answered: %v", pause, entries, changes, acknowledged)
			}
		default:
			t.Errorf("killed after %d µs: %v", pause, now.GetState())
		}
		outcomes[now.GetState().String()]++
		if acknowledged {
			outcomes["answered before the kill"]++
		}
		s.Close()
		p.stop(t)
	}
	t.Log(outcomes)
}

// onRecord waits until a sheet is not being put on record any more.
func onRecord(t *testing.T, c jobsheetv1.JobSheetServiceClient, name string) *jobsheetv1.JobSheet {
	t.Helper()
	limit := time.After(patience)
	for {
		m, err := c.GetJobSheet(context.Background(), &jobsheetv1.GetJobSheetRequest{Name: name})
		if err != nil {
			t.Fatal(err)
		}
		if m.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_TAKEN_IN {
			return m
		}
		select {
		case <-limit:
			return m
		case <-time.After(20 * time.Millisecond):
		}
	}
}
