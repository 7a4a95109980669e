package exchangerun_test

import (
	"bytes"
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/exchange/exchangerun"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// emptyWorks runs all services over an empty store, at noon of the demo's day.
// The clock stands still, so that two works record the same times.
func emptyWorks(t *testing.T) (context.Context, exchangerun.Clients) {
	t.Helper()
	noon := aldermoor.Today.Start(time.UTC).Add(12 * time.Hour)
	p, err := works.Start(t.Context(), works.Config{Data: t.TempDir(), Passes: works.Never, Clock: func() time.Time { return noon },
		Works: works.WorksConfig{Name: "Aldermoor Works", Telephone: "+44 1632 960100"}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := p.Close(); err != nil {
			t.Error(err)
		}
	})
	c := p.Clients()
	return works.Operator(t.Context()), exchangerun.Clients{Builds: c.Builds, Parts: c.Parts, Schedules: c.Schedules, Owners: c.Owners, Reminders: c.Reminders, Warranties: c.Warranties, Bulletins: c.Bulletins, Enquiries: c.Enquiries, Handbooks: c.Handbooks}
}

// demoFiles lays the demo works' files out.
func demoFiles(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "files")
	if err := os.CopyFS(dir, aldermoor.Files); err != nil {
		t.Fatal(err)
	}
	return dir
}

// importFrom imports a directory and wants no fault.
func importFrom(t *testing.T, ctx context.Context, c exchangerun.Clients, dir string) *exchangerun.Report {
	t.Helper()
	r, err := exchangerun.Import(ctx, c, []string{dir}, exchangerun.Options{Today: aldermoor.Today})
	if err != nil {
		t.Fatal(err)
	}
	if r.Total > 0 {
		var text bytes.Buffer
		if err := r.WriteText(&text); err != nil {
			t.Error(err)
		}
		t.Fatalf("importing %s:\n%s", dir, text.String())
	}
	return r
}

// exportTo exports everything into a new directory.
func exportTo(t *testing.T, ctx context.Context, c exchangerun.Clients, format string) (dir string, records int) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), format)
	records, err := exchangerun.Export(ctx, c, dir, format, nil)
	if err != nil {
		t.Fatal(err)
	}
	return dir, records
}

// exported gives the files of a CSV export.
func exported(t *testing.T, ctx context.Context, c exchangerun.Clients) map[string]string {
	t.Helper()
	dir, _ := exportTo(t, ctx, c, "csv")
	return bytesOf(t, dir)
}

// bytesOf reads every file below a directory.
func bytesOf(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		name, err := filepath.Rel(dir, path)
		files[name] = string(raw)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// cellsOf reads every cell of the workbook in an export, by a library that
// took no part in reading it for the import.
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
	return cells
}

// kept counts what the services have of each kind that is listed across all
// vehicles, up to a page.
func kept(t *testing.T, ctx context.Context, c exchangerun.Clients) map[string]int {
	t.Helper()
	releases, err1 := c.Builds.ListReleases(ctx, &buildv1.ListReleasesRequest{})
	builds, err2 := c.Builds.ListBuilds(ctx, &buildv1.ListBuildsRequest{})
	parts, err3 := c.Parts.ListParts(ctx, &partsv1.ListPartsRequest{})
	programmes, err4 := c.Schedules.ListProgrammes(ctx, &schedulev1.ListProgrammesRequest{})
	people, err5 := c.Owners.ListPeople(ctx, &ownerv1.ListPeopleRequest{})
	for _, err := range []error{err1, err2, err3, err4, err5} {
		if err != nil {
			t.Fatal(err)
		}
	}
	return map[string]int{
		"releases": len(releases.GetReleases()), "builds": len(builds.GetBuilds()), "parts": len(parts.GetParts()),
		"programmes": len(programmes.GetProgrammes()), "people": len(people.GetPeople()),
	}
}

// wantNothingKept is the promise of a refused import.
func wantNothingKept(t *testing.T, ctx context.Context, c exchangerun.Clients) {
	t.Helper()
	for kind, n := range kept(t, ctx, c) {
		if n > 0 {
			t.Errorf("%d %s were written", n, kind)
		}
	}
}
