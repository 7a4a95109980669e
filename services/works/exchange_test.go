package works_test

import (
	"bytes"
	"context"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

func TestWhatIsExportedComesBackTheSame(t *testing.T) {
	_, ctx, first := start(t, works.Config{})
	importFiles(t, ctx, first, demoFiles(t))
	export := func(c works.Clients, format string) string {
		dir := filepath.Join(t.TempDir(), "out")
		if err := works.Export(ctx, c, dir, format, io.Discard, io.Discard); err != nil {
			t.Fatal(err)
		}
		return dir
	}
	csv, xlsx := export(first, "csv"), export(first, "xlsx")
	for _, from := range []string{csv, xlsx} {
		_, _, second := start(t, works.Config{})
		importFiles(t, ctx, second, from)
		if diff := cmp.Diff(bytesOf(t, csv), bytesOf(t, export(second, "csv"))); diff != "" {
			t.Errorf("imported from %s, the CSV and YAML export differs (-first +second):\n%.4000s", from, diff)
		}
		if diff := cmp.Diff(cellsOf(t, xlsx), cellsOf(t, export(second, "xlsx"))); diff != "" {
			t.Errorf("imported from %s, the XLSX export differs (-first +second):\n%.4000s", from, diff)
		}
	}
}

// bytesOf reads every file below a directory.
func bytesOf(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	err := fs.WalkDir(os.DirFS(dir), ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := os.ReadFile(filepath.Join(dir, path))
		files[path] = string(raw)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// cellsOf reads every cell of the workbook in a directory.
func cellsOf(t *testing.T, dir string) map[string][][]string {
	t.Helper()
	book, err := excelize.OpenFile(filepath.Join(dir, "works.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	cells := map[string][][]string{}
	for _, sheet := range book.GetSheetList() {
		if cells[sheet], err = book.GetRows(sheet); err != nil {
			t.Fatal(err)
		}
	}
	if len(cells) < 10 {
		t.Fatalf("only %d sheets", len(cells))
	}
	return cells
}

func TestTheSameFilesAgainChangeNothing(t *testing.T) {
	_, ctx, c := start(t, works.Config{})
	files := demoFiles(t)
	importFiles(t, ctx, c, files)
	var out bytes.Buffer
	if ok, err := works.Import(ctx, c, aldermoor.Today, []string{files}, false, &out, io.Discard); err != nil || !ok {
		t.Fatal(ok, err)
	}
	if !strings.Contains(out.String(), "0 records written") {
		t.Errorf("got %s", out.String())
	}
}

func TestOneWrongCellAmongAllKeepsEverythingOut(t *testing.T) {
	_, ctx, c := start(t, works.Config{})
	files := demoFiles(t)
	appendLine(t, filepath.Join(files, "readings.csv"), "AM0101X,,03/04/2020,12 furlongs,nobody,,,,,,")
	appendLine(t, filepath.Join(files, "changes.csv"), "")
	var out bytes.Buffer
	ok, err := works.Import(ctx, c, aldermoor.Today, []string{files}, false, &out, io.Discard)
	if err != nil || ok {
		t.Fatalf("got faultless %v, %v", ok, err)
	}
	for _, want := range []string{"readings.csv", "AM0101X", "03/04/2020", "12 furlongs", "nobody", "nothing was written"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the report does not name %q:\n%s", want, out.String())
		}
	}
	if builds := buildNames(t, ctx, c); len(builds) != 0 {
		t.Errorf("%d vehicles were written", len(builds))
	}
}

func TestADryRunWritesNothing(t *testing.T) {
	_, ctx, c := start(t, works.Config{})
	ok, err := works.Import(ctx, c, aldermoor.Today, []string{demoFiles(t)}, true, io.Discard, io.Discard)
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	if builds := buildNames(t, ctx, c); len(builds) != 0 {
		t.Errorf("%d vehicles were written", len(builds))
	}
}

func TestARowThatDiffersFromAFrozenRecordIsRefusedWithBothTexts(t *testing.T) {
	_, ctx, c := start(t, works.Config{})
	files := demoFiles(t)
	importFiles(t, ctx, c, files)
	path := filepath.Join(files, "builds.csv")
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, bytes.Replace(raw, []byte("24000-10000"), []byte("24000-10001"), 1), 0o600); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	ok, err := works.Import(ctx, c, aldermoor.Today, []string{files}, false, &out, io.Discard)
	if err != nil || ok || !strings.Contains(out.String(), "24000-10001") || !strings.Contains(out.String(), "24000-10000, as recorded: amend") {
		t.Errorf("got faultless %v, %v:\n%s", ok, err, out.String())
	}
}

func appendLine(t *testing.T, path, line string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.WriteString(line + "\n"); err != nil {
		t.Fatal(err)
	}
}

func buildNames(t *testing.T, ctx context.Context, c works.Clients) []string {
	t.Helper()
	r, err := c.Builds.ListBuilds(ctx, &buildv1.ListBuildsRequest{PageSize: 500})
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, b := range r.GetBuilds() {
		names = append(names, b.GetName())
	}
	slices.Sort(names)
	return names
}
