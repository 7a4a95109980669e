package works_test

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

func TestTheSameFilesAgainChangeNothing(t *testing.T) {
	racetest.Skip(t, "files pass through one goroutine, and the import of the demo for the others is watched")
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
	racetest.Skip(t, "files pass through one goroutine, and the import of the demo for the others is watched")
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
	racetest.Skip(t, "files pass through one goroutine, and the import of the demo for the others is watched")
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
	racetest.Skip(t, "files pass through one goroutine, and the import of the demo for the others is watched")
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
