package desk

import (
	"testing"
	"time"
)

// A job that is new has no time for which it ran, and not that of the year 1.
func TestAJobThatNeverRanIsSaidToHaveNotRun(t *testing.T) {
	at := time.Date(2026, 5, 18, 9, 0, 0, 0, time.UTC)
	rows := (&visit{}).jobsTable([]JobRun{{Name: "trim-requests"}, {Name: "nightly-snapshot", Scheduled: at, Begun: at, Finished: at.Add(time.Second), Tries: 1}}).Rows
	for i, want := range [][3]string{{"it has not run yet", "not yet", "–"}, {"18 May 2026, 09:00 UTC", "18 May 2026, 09:00 UTC", "1.000 s"}} {
		if got := [3]string{rows[i][1].Text, rows[i][2].Text, rows[i][3].Text}; got != want {
			t.Errorf("row %d: got %q, want %q", i, got, want)
		}
	}
}
