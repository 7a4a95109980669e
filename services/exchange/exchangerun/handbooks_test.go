package exchangerun_test

import (
	"bytes"
	"context"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/exchange/exchangerun"
	"halfshaft/testdata/aldermoor"
)

// withHandbooks is a works with some vehicles, the demo's book, and two issues of
// the handbook of one of them. It gives the vehicle.
func withHandbooks(t *testing.T) (ctx context.Context, c exchangerun.Clients, serial string) {
	t.Helper()
	ctx, c = emptyWorks(t)
	files := fewVehicles(t)
	books, err := aldermoor.Books()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(files, "book.yaml"), books[0], 0o600); err != nil {
		t.Fatal(err)
	}
	importFrom(t, ctx, c, files)
	serials := slices.Sorted(maps.Keys(serialsOf(t, files)))
	serial = serials[0]
	for _, why := range []string{"delivery", "asked for"} {
		_, err := c.Handbooks.IssueHandbook(ctx, &handbookv1.IssueHandbookRequest{Parent: "vehicles/" + serial, Text: why, RequestId: uuid.NewString()})
		if err != nil {
			t.Fatal(err)
		}
	}
	return ctx, c, serial
}

func serialsOf(t *testing.T, dir string) map[string]bool {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join(dir, "builds.csv"))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]bool{}
	for _, line := range strings.Split(strings.TrimSpace(string(raw)), "\n")[1:] {
		serial, _, _ := strings.Cut(line, ",")
		out[serial] = true
	}
	return out
}

// handbookFiles are the files of an export that are about handbooks.
func handbookFiles(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, folder := range []string{"books", "handbook_issues", "handbook_files"} {
		entries, err := os.ReadDir(filepath.Join(dir, folder))
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			raw, err := os.ReadFile(filepath.Join(dir, folder, e.Name()))
			if err != nil {
				t.Fatal(err)
			}
			out[folder+"/"+e.Name()] = string(raw)
		}
	}
	return out
}

func TestBooksAndIssuedHandbooksComeBackFromAnExportAsTheyWere(t *testing.T) {
	ctx, c, serial := withHandbooks(t)
	from, _ := exportTo(t, ctx, c, "csv")
	files := handbookFiles(t, from)
	if len(files) < 1+2+5 {
		t.Fatalf("the export has only %q", slices.Sorted(maps.Keys(files)))
	}
	ctx, c = emptyWorks(t)
	importFrom(t, ctx, c, from)
	again, _ := exportTo(t, ctx, c, "csv")
	if diff := cmp.Diff(files, handbookFiles(t, again)); diff != "" {
		t.Errorf("what was imported is exported otherwise:\n%.2000s", diff)
	}
	if r := importFrom(t, ctx, c, from); r.Written != 0 {
		t.Errorf("the second time %d records were written", r.Written)
	}
	// The archive goes on where it stood: the next issue is the third.
	i, err := c.Handbooks.IssueHandbook(ctx, &handbookv1.IssueHandbookRequest{Parent: "vehicles/" + serial, RequestId: uuid.NewString()})
	if err != nil || i.GetName() != "vehicles/"+serial+"/handbookIssues/3" || len(i.GetChanges()) > 0 {
		t.Errorf("the next issue is %s with %d changes: %v", i.GetName(), len(i.GetChanges()), err)
	}
}

func TestAnIssueWhoseFileIsMissingOrDamagedIsNotTakenIn(t *testing.T) {
	ctx, c, _ := withHandbooks(t)
	from, _ := exportTo(t, ctx, c, "csv")
	pdfs, err := filepath.Glob(filepath.Join(from, "handbook_files", "*.pdf"))
	if err != nil || len(pdfs) == 0 {
		t.Fatal(pdfs, err)
	}
	whole, err := os.ReadFile(pdfs[0])
	if err != nil {
		t.Fatal(err)
	}

	if err := os.Remove(pdfs[0]); err != nil {
		t.Fatal(err)
	}
	ctx, c = emptyWorks(t)
	r, err := exchangerun.Import(ctx, c, []string{from}, exchangerun.Options{Today: aldermoor.Today})
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	if err := r.WriteText(&text); err != nil {
		t.Fatal(err)
	}
	digest := strings.TrimSuffix(filepath.Base(pdfs[0]), ".pdf")
	if r.Total == 0 || !strings.Contains(text.String(), digest) || !strings.Contains(text.String(), "handbook_files") {
		t.Errorf("a missing file is not named:\n%s", text.String())
	}
	if list, err := c.Handbooks.ListBooks(ctx, &handbookv1.ListBooksRequest{}); err != nil || len(list.GetBooks()) > 0 {
		t.Errorf("a part of it was taken in: %v, %v", list.GetBooks(), err)
	}

	if err := os.WriteFile(pdfs[0], append(whole, '\n'), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := exchangerun.Import(ctx, c, []string{from}, exchangerun.Options{Today: aldermoor.Today}); err == nil || !strings.Contains(err.Error(), "not as it was exported") {
		t.Errorf("a damaged file: %v", err)
	}
	if err := os.WriteFile(pdfs[0], whole, 0o600); err != nil {
		t.Fatal(err)
	}
	importFrom(t, ctx, c, from)
}
