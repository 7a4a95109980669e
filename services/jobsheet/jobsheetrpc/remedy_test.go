package jobsheetrpc

import (
	"testing"

	"halfshaft/services/jobsheet"
)

// A campaign whose remedy has two items is not done when one of them is: the
// sheet that names one has both.
func TestARemedyComesOnASheetWhole(t *testing.T) {
	open := []jobsheet.Remedy{{Campaign: "C-1", FollowUp: "vehicles/AM0147P/followUps/C-1", Items: []jobsheet.RemedyItem{{ID: "C1", Title: "Renew the hose"}, {ID: "C2", Title: "Look at the pipe"}}}}
	var f jobsheet.Facts
	if !takeRemedy(&f, open, "C-1", "C1") || !takeRemedy(&f, open, "C-1", "C2") {
		t.Fatal("an item of an open campaign is unknown")
	}
	if takeRemedy(&f, open, "C-1", "C3") || takeRemedy(&f, open, "C-2", "C1") {
		t.Error("what no open campaign asks for is taken")
	}
	sheet, err := jobsheet.Make(f)
	if err != nil || len(sheet.Jobs) != 2 {
		t.Fatalf("%d jobs, %v", len(sheet.Jobs), err)
	}
	done := jobsheet.Return{Jobs: []jobsheet.Done{{Number: 1, Done: true}, {Number: 2, Note: "no time"}}}
	if w := sheet.Follow(&done); len(w.Steps) != 0 {
		t.Errorf("half of the remedy makes the step %v", w.Steps)
	}
	f = jobsheet.Facts{}
	takeRemedy(&f, open, "C-1", "C1")
	if sheet, err = jobsheet.Make(f); err != nil || len(sheet.Jobs) != 2 {
		t.Errorf("named by one item, the sheet has %d of 2 jobs, %v", len(sheet.Jobs), err)
	}
}
