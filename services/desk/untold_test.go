package desk

import (
	"testing"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
)

// "On record, all of it" is not said of a campaign that counts nothing of it.
func TestAReturnedSheetNamesTheCampaignsThatDoNotCountIt(t *testing.T) {
	v := sent(nil)
	v.r.SetPathValue("serial", "AM0147P")
	const told, not = "vehicles/AM0147P/followUps/C-2026-01", "vehicles/AM0147P/followUps/C-2026-02"
	m := &jobsheetv1.JobSheet{State: jobsheetv1.JobSheetState_JOB_SHEET_STATE_RETURNED,
		Jobs: []*jobsheetv1.Job{{Number: 1, FollowUp: told}, {Number: 2, FollowUp: not}, {Number: 3, FollowUp: not}, {Number: 4}},
		JobReturn: &jobsheetv1.JobReturn{Records: []string{"vehicles/AM0147P/serviceEntries/e1", told},
			Jobs: []*jobsheetv1.JobDone{{Number: 1, Done: true}, {Number: 2, Done: true}, {Number: 3}, {Number: 4, Done: true}}}}
	if got := v.untold(m); len(got) != 1 || got[0].Term != "Campaign C-2026-02" || got[0].Path != "/vehicles/AM0147P/campaigns/C-2026-02" {
		t.Errorf("got %+v", got)
	}
	m.State = jobsheetv1.JobSheetState_JOB_SHEET_STATE_TAKEN_IN
	if got := v.untold(m); len(got) != 0 {
		t.Errorf("while it is being put on record: %+v", got)
	}
}
