package jobsheetstore

import (
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	"halfshaft/services/internal/projection"
)

// A sheet that came back stays for ever and is seldom read: it takes no room as a
// message with all its jobs, and is read as it was.
func TestASettledSheetIsHeldAsItIsStoredAndReadAsItWas(t *testing.T) {
	for state, settled := range map[jobsheetv1.JobSheetState]bool{
		jobsheetv1.JobSheetState_JOB_SHEET_STATE_OPEN: false, jobsheetv1.JobSheetState_JOB_SHEET_STATE_TAKEN_IN: false,
		jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED: true, jobsheetv1.JobSheetState_JOB_SHEET_STATE_CANCELLED: true,
	} {
		kept := &jobsheetv1.KeptJobSheet{Attempt: 2, JobSheet: &jobsheetv1.JobSheet{Name: "vehicles/AM0147P/jobSheets/3", State: state, MadeBy: "bert",
			CreateTime: &timestamppb.Timestamp{Seconds: 1779100000}, Jobs: []*jobsheetv1.Job{{Number: 1, ItemId: "T02", Title: "End float"}}}}
		raw, err := proto.Marshal(kept)
		if err != nil {
			t.Fatal(err)
		}
		s := &Store{memory: newMemory()}
		if err := s.memory.Apply([]projection.Event{{Key: sheetKey("AM0147P", 3), Value: raw, ModRevision: 7}}, 7); err != nil {
			t.Fatal(err)
		}
		clear(raw) // the feed has its bytes back
		all := s.Sheets("", func(k Kept) bool { return k.Message.GetJobSheet().GetState() == state })
		if len(all) != 1 || settled != (len(all[0].Message.GetJobSheet().GetJobs()) == 0) || all[0].Message.GetJobSheet().GetCreateTime().GetSeconds() != 1779100000 {
			t.Errorf("%v is listed as %v", state, all)
		}
		got, err := s.Sheet("AM0147P", 3)
		if err != nil || got.Revision != 7 || !proto.Equal(got.Message, kept) {
			t.Errorf("%v is read as %v, %v", state, got, err)
		}
	}
}
