package exchangerun_test

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/exchange/exchangerun"
	"halfshaft/testdata/aldermoor"
)

// One file of an export by itself, its last column taken off, changes nothing
// of what other files and other columns say.
func TestAFileOfAnExportByItselfAndWithFewerColumnsWritesNothing(t *testing.T) {
	ctx, c := emptyWorks(t)
	importFrom(t, ctx, c, fewVehicles(t))
	dir, _ := exportTo(t, ctx, c, "csv")
	want := bytesOf(t, dir)
	for _, name := range []string{"parts", "supersessions", "positions", "applications", "settings", "capacities", "people", "ties", "builds", "service_entries"} {
		t.Run(name, func(t *testing.T) {
			for _, dropped := range []int{0, 1, 3} {
				file := filepath.Join(t.TempDir(), name+".csv")
				withoutColumns(t, filepath.Join(dir, name+".csv"), file, dropped)
				r, err := exchangerun.Import(ctx, c, []string{file}, exchangerun.Options{Today: aldermoor.Today})
				if err != nil || r.Total != 0 || r.Written != 0 || r.Unchanged == 0 {
					t.Errorf("without its last %d columns: %d written, %d unchanged, %.500v, %v", dropped, r.Written, r.Unchanged, r.Faults, err)
				}
			}
		})
	}
	if diff := cmp.Diff(want, exported(t, ctx, c)); diff != "" {
		t.Errorf("(-before +after):\n%.4000s", diff)
	}
}

// withoutColumns copies a table but for its last columns, as far as a row can
// do without them.
func withoutColumns(t *testing.T, from, to string, dropped int) {
	t.Helper()
	in, err := os.Open(from)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	rows, err := csv.NewReader(in).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	switch filepath.Base(from) {
	case "ties.csv":
		dropped = min(dropped, 1) // before its end stands its start, by which it is known
	case "builds.csv":
		dropped = min(dropped, 2) // before the delivery stands the day of the build, without which no row is
	}
	out, err := os.Create(to)
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	w := csv.NewWriter(out)
	for _, row := range rows {
		if err := w.Write(row[:len(row)-dropped]); err != nil {
			t.Fatal(err)
		}
	}
	w.Flush()
	if err := w.Error(); err != nil {
		t.Fatal(err)
	}
}
