package exchangerun_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"halfshaft/services/exchange"
	"halfshaft/services/exchange/exchangerun"
	"halfshaft/testdata/aldermoor"
)

func TestOneWrongFileAmongRightOnesKeepsAllOut(t *testing.T) {
	ctx, c := emptyWorks(t)
	for _, wrong := range []struct {
		name string
		do   func(t *testing.T, dir string)
		want string // of one fault: its file, a comma, what was wanted
	}{
		{"a day that two can read", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "builds.csv"), "2011-03-27", "27/03/2011")
		}, "builds.csv, 2011-03-27: the year first"},
		{"a serial that was misheard", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "readings.csv"), "AM0101G", "AM0101X")
		}, "readings.csv, a serial with its check character"},
		{"a person who is nowhere", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "ties.csv"), "p0001", "p9999")
		}, "ties.csv, a person who is there or in the import"},
		{"a column that no table has", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "events.csv"), "note", "remark")
		}, "events.csv, one of the columns: serial"},
		{"a key that no document has", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "releases", "R1.yaml"), "title:", "heading:")
		}, "R1.yaml, one of the keys: name"},
		{"a line whose record is missing", func(t *testing.T, dir string) {
			put(t, dir, "parts_used.csv", "entry,serial,part\nv9999,AM0101G,AP-1010\n")
		}, "parts_used.csv, a row of that name in the table service entries"},
		{"a file of no table", func(t *testing.T, dir string) {
			put(t, dir, "shopping.csv", "milk,bread\n")
		}, "shopping.csv, the name of a table: builds"},
		{"a workbook that is none", func(t *testing.T, dir string) {
			put(t, dir, "works.xlsx", "this is no archive")
		}, "works.xlsx, "},
		{"a reading of tomorrow", func(t *testing.T, dir string) {
			edit(t, filepath.Join(dir, "changes.csv"), "2022-05-11", "2122-05-11")
		}, "changes.csv, "},
	} {
		t.Run(wrong.name, func(t *testing.T) {
			dir := fewVehicles(t)
			wrong.do(t, dir)
			r, err := exchangerun.Import(ctx, c, []string{dir}, exchangerun.Options{Today: aldermoor.Today})
			if err != nil {
				t.Fatal(err)
			}
			if r.Total == 0 || r.Written != 0 || !told(r.Faults, wrong.want) {
				t.Errorf("%d written, %d faults, none of them %q: %.600v", r.Written, r.Total, wrong.want, r.Faults)
			}
			wantNothingKept(t, ctx, c)
		})
	}
}

// told says whether a fault names its file and what was wanted, as "FILE, WANT".
func told(faults []exchange.Fault, want string) bool {
	for _, f := range faults {
		if strings.Contains(filepath.Base(f.File)+", "+f.Want, want) {
			return true
		}
	}
	return false
}

// edit replaces the first old in a file with new, which must be there.
func edit(t *testing.T, path, old, new string) {
	t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(raw), old) {
		t.Fatalf("%s has no %q", path, old)
	}
	if err := os.WriteFile(path, []byte(strings.Replace(string(raw), old, new, 1)), 0o600); err != nil {
		t.Fatal(err)
	}
}

func put(t *testing.T, dir, name, content string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestAnImportOfNoFilesIsAFaultAndNotASuccess(t *testing.T) {
	ctx, c := emptyWorks(t)
	r, err := exchangerun.Import(ctx, c, []string{t.TempDir()}, exchangerun.Options{Today: aldermoor.Today})
	if err != nil || r.Total != 1 {
		t.Errorf("got %+v, %v", r, err)
	}
	if _, err := exchangerun.Import(ctx, c, []string{filepath.Join(t.TempDir(), "gone")}, exchangerun.Options{}); err == nil {
		t.Error("a directory that is not there was imported")
	}
}
