package exchangerun_test

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// fewVehicles lays the demo works' files out with its first ten vehicles only:
// for tests that import many times, to which a long history adds nothing.
func fewVehicles(t *testing.T) string {
	t.Helper()
	dir := demoFiles(t)
	kept := map[string]bool{}
	builds := readRows(t, filepath.Join(dir, "builds.csv"))
	at := slices.Index(builds[0], "serial")
	for _, row := range builds[1:11] {
		kept[row[at]] = true
	}
	paths, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range paths {
		rows := readRows(t, path)
		at := slices.Index(rows[0], "serial")
		if at < 0 {
			continue
		}
		few := rows[:1]
		for _, row := range rows[1:] {
			if kept[row[at]] {
				few = append(few, row)
			}
		}
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		w := csv.NewWriter(f)
		if err := w.WriteAll(few); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func readRows(t *testing.T, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) == 0 {
		t.Fatal(path, err)
	}
	return rows
}
