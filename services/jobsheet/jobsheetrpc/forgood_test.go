package jobsheetrpc

import (
	"slices"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
)

// A dealer gives the vehicle back while a service is away. Their campaign is not
// there for them any more, and never will be: the sheet is returned without it,
// and is not tried for ever.
func TestACampaignThatMayNotBeToldAnyMoreHoldsNoSheetUp(t *testing.T) {
	for _, code := range []codes.Code{codes.NotFound, codes.PermissionDenied, codes.FailedPrecondition} {
		w := work(t)
		w.others.away, w.others.after = "step", false
		if m, err := w.ReturnJobSheet(dealer(t.Context()), w.request()); err != nil || m.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_TAKEN_IN {
			t.Fatalf("got %v, %v", m.GetState(), err)
		}
		w.others.gone = status.Error(code, "not here")
		w.carryAllOn(t.Context(), nil)
		now := w.now(t)
		want := []string{"vehicles/AM0147P/serviceEntries/e1", "builds/AM0147P/changes/c1"}
		if got := now.GetJobReturn().GetRecords(); now.GetState() != jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED || !slices.Equal(got, want) {
			t.Errorf("%v: the sheet is %v with the records %v", code, now.GetState(), got)
		}
	}
}
