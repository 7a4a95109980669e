package exchangerun_test

import (
	"path/filepath"
	"strings"
	"testing"

	"halfshaft/services/exchange/exchangerun"
	"halfshaft/testdata/aldermoor"
)

// What stands in a personal cell is not repeated by the services; the command
// that reads the operator's own file says it, so that the cell is found.
func TestAPersonalCellThatIsRefusedIsNamedWithWhatStandsInIt(t *testing.T) {
	ctx, c := emptyWorks(t)
	dir := fewVehicles(t)
	edit(t, filepath.Join(dir, "people.csv"), "@", " at ")
	r, err := exchangerun.Import(ctx, c, []string{dir}, exchangerun.Options{Today: aldermoor.Today})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range r.Faults {
		if filepath.Base(f.File) == "people.csv" && f.Column == "email" && f.Row > 1 && strings.Contains(f.Got, " at ") && strings.Contains(f.Want, "one address") {
			return
		}
	}
	t.Errorf("no fault names the cell: %v", r.Faults)
}
