package exchangerun_test

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/exchange/exchangerun"
	"halfshaft/testdata/aldermoor"
)

func TestEveryRowOfTheDemoIsTakenInAndTheSecondTimeNoneIsWritten(t *testing.T) {
	ctx, c := emptyWorks(t)
	files := demoFiles(t)
	first := importFrom(t, ctx, c, files)
	if first.Written == 0 || first.Unchanged != 0 {
		t.Errorf("the first time %d were written and %d unchanged", first.Written, first.Unchanged)
	}
	read := map[string]int{}
	for _, count := range first.Tables {
		read[count.Table] = count.Rows
	}
	for name, rows := range rowsOf(t, files) {
		if read[name] != rows {
			t.Errorf("%s: %d rows were read of %d", name, read[name], rows)
		}
	}
	second := importFrom(t, ctx, c, files)
	if second.Written != 0 || second.Unchanged != first.Written {
		t.Errorf("the second time %d were written and %d unchanged, of %d", second.Written, second.Unchanged, first.Written)
	}
}

// rowsOf counts the rows of each CSV file by itself, without the header.
func rowsOf(t *testing.T, dir string) map[string]int {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	if err != nil || len(paths) == 0 {
		t.Fatal(paths, err)
	}
	rows := map[string]int{}
	for _, path := range paths {
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		all, err := csv.NewReader(f).ReadAll()
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		name := strings.ReplaceAll(strings.TrimSuffix(filepath.Base(path), ".csv"), "_", " ")
		rows[name] = len(all) - 1
	}
	return rows
}

func TestAnEmptyWorksFilledFromAnExportExportsTheSame(t *testing.T) {
	ctx, c := emptyWorks(t)
	files := fewVehicles(t)
	written := importFrom(t, ctx, c, files).Written
	csv, records := exportTo(t, ctx, c, "csv")
	// The reading in each service entry and event of the demo is kept as one of
	// its own besides.
	rows := rowsOf(t, files)
	if want := written + rows["service entries"] + rows["events"]; records != want {
		t.Errorf("%d records were exported, want %d", records, want)
	}
	xlsx, _ := exportTo(t, ctx, c, "xlsx")
	if n := len(cellsOf(t, xlsx)); n < 10 {
		t.Fatalf("the workbook has only %d sheets", n)
	}
	for _, from := range []string{csv, xlsx} {
		t.Run("from "+filepath.Base(from), func(t *testing.T) {
			ctx, c := emptyWorks(t)
			importFrom(t, ctx, c, from)
			if diff := cmp.Diff(bytesOf(t, csv), exported(t, ctx, c)); diff != "" {
				t.Errorf("the CSV and YAML files differ (-first +second):\n%.4000s", diff)
			}
			again, _ := exportTo(t, ctx, c, "xlsx")
			if diff := cmp.Diff(cellsOf(t, xlsx), cellsOf(t, again)); diff != "" {
				t.Errorf("the cells of the workbook differ (-first +second):\n%.4000s", diff)
			}
		})
	}
}

func TestAnExportImportedWhereItCameFromWritesNothing(t *testing.T) {
	ctx, c := emptyWorks(t)
	importFrom(t, ctx, c, fewVehicles(t))
	for _, format := range []string{"csv", "xlsx"} {
		dir, _ := exportTo(t, ctx, c, format)
		if r := importFrom(t, ctx, c, dir); r.Written != 0 || r.Unchanged == 0 {
			t.Errorf("%s: %d were written, %d unchanged", format, r.Written, r.Unchanged)
		}
	}
}

func TestADryRunOnlyReports(t *testing.T) {
	ctx, c := emptyWorks(t)
	r, err := exchangerun.Import(ctx, c, []string{demoFiles(t)}, exchangerun.Options{Today: aldermoor.Today, DryRun: true})
	if err != nil || r.Total != 0 || r.Written != 0 || len(r.Tables) == 0 {
		t.Errorf("got %+v, %v", r, err)
	}
	wantNothingKept(t, ctx, c)
}
