package jobsheetrpc

import (
	"testing"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	"halfshaft/services/access"
)

// A vehicle comes to another dealer, who reads the sheets that there are: what was
// done, and none of the names that people of others sign in with.
func TestADealerIsNotToldWhoElsewhereMadeASheetAndTookItIn(t *testing.T) {
	w := work(t)
	if _, err := w.ReturnJobSheet(dealer(t.Context()), w.request()); err != nil {
		t.Fatal(err)
	}
	k, err := w.store.Sheet("AM0147P", 1)
	if err != nil {
		t.Fatal(err)
	}
	k = cloned(k)
	k.Message.JobSheet.MadeBy = "bert"
	if _, err := w.store.PutFenced(t.Context(), nil, k); err != nil {
		t.Fatal(err)
	}
	other := access.NewContext(t.Context(), access.Caller{Role: access.Dealer, Bearer: "hal", Organisation: "organisations/saltmarket"})
	support := access.NewContext(t.Context(), access.Caller{Role: access.Support, Bearer: "bert"})
	for name, c := range map[string]struct {
		made, taken string
		ask         func() (*jobsheetv1.JobSheet, error)
	}{
		"another dealer": {"", "", func() (*jobsheetv1.JobSheet, error) {
			return w.GetJobSheet(other, &jobsheetv1.GetJobSheetRequest{Name: w.sheet.GetName()})
		}},
		"who took it in": {"", "ned", func() (*jobsheetv1.JobSheet, error) {
			return w.GetJobSheet(dealer(t.Context()), &jobsheetv1.GetJobSheetRequest{Name: w.sheet.GetName()})
		}},
		"support": {"bert", "ned", func() (*jobsheetv1.JobSheet, error) {
			return w.GetJobSheet(support, &jobsheetv1.GetJobSheetRequest{Name: w.sheet.GetName()})
		}},
		"another dealer, a list": {"", "", func() (*jobsheetv1.JobSheet, error) {
			all, err := w.ListJobSheets(other, &jobsheetv1.ListJobSheetsRequest{Parent: "vehicles/AM0147P"})
			return all.GetJobSheets()[0], err
		}},
	} {
		m, err := c.ask()
		if err != nil || m.GetMadeBy() != c.made || m.GetJobReturn().GetTakenInBy() != c.taken || m.GetJobReturn().GetDoneBy() != "Ned" {
			t.Errorf("%s is told: made by %q, taken in by %q, done by %q, %v", name, m.GetMadeBy(), m.GetJobReturn().GetTakenInBy(), m.GetJobReturn().GetDoneBy(), err)
		}
	}
}
