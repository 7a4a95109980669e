package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"halfshaft/testdata/aldermoor"
)

// A snapshot holds the records of issues and not their files: the restore says
// which are missing, and with the copied directory everything is as it was.
func TestAnIssuedHandbookSurvivesBackupAndRestore(t *testing.T) {
	data := demoData(t)
	run := func(data string, args ...string) string {
		t.Helper()
		out, ok := halfshaft(t, data, args...)
		if !ok {
			t.Fatalf("%q:\n%s", args, out)
		}
		return out
	}
	run(data, "book", "import", "../../testdata/aldermoor/books/packhorse.v1.yaml")
	p := serve(t, data, "--date", aldermoor.Today.String(), "--works", "Aldermoor Works", "--telephone", "+44 1632 960100")
	run(data, "handbook", "issue", "AM0147P", "--why", "delivery")
	if out := run(data, "handbook", "check"); !strings.Contains(out, "1 issued handbooks have all of their 5 files") {
		t.Errorf("beside a running process:\n%s", out)
	}
	if out := run(data, "snapshot"); !strings.Contains(out, filepath.Join(data, "handbooks")) {
		t.Errorf("the snapshot does not say what is not in it:\n%s", out)
	}
	p.stop(t)
	want := filepath.Join(t.TempDir(), "as-issued.pdf")
	run(data, "handbook", "download", "AM0147P", want)
	files, err := filepath.Glob(filepath.Join(data, "snapshots", "*.db"))
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}

	other := filepath.Join(t.TempDir(), "restored")
	if out := run(other, "restore", files[0]); !strings.Contains(out, "5 of the 5 files of 1 issued handbooks are missing or damaged") || !strings.Contains(out, "vehicles/AM0147P/handbookIssues/1, application/pdf A5 is missing") {
		t.Errorf("the restore does not say what it lacks:\n%s", out)
	}
	if out, ok := halfshaft(t, other, "handbook", "check"); ok || !strings.Contains(out, "HANDBOOK_MISSING") && !strings.Contains(out, "missing or damaged") {
		t.Errorf("a directory without the files passes:\n%s", out)
	}
	if err := os.CopyFS(filepath.Join(other, "secrets"), os.DirFS(filepath.Join(data, "secrets"))); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(filepath.Join(other, "secrets"), 0o700); err != nil {
		t.Fatal(err)
	}
	secrets, err := filepath.Glob(filepath.Join(other, "secrets", "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range secrets {
		if err := os.Chmod(path, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	got := filepath.Join(t.TempDir(), "restored.pdf")
	if out, ok := halfshaft(t, other, "handbook", "download", "AM0147P", got); ok || !strings.Contains(out, "not in the archive") {
		t.Errorf("a file that is missing is sent, or the refusal does not say so:\n%s", out)
	}
	if err := os.CopyFS(filepath.Join(other, "handbooks"), os.DirFS(filepath.Join(data, "handbooks"))); err != nil {
		t.Fatal(err)
	}
	run(other, "handbook", "check")
	run(other, "handbook", "download", "AM0147P", got)
	before, err := os.ReadFile(want)
	if err != nil {
		t.Fatal(err)
	}
	after, err := os.ReadFile(got)
	if err != nil || string(before) != string(after) {
		t.Errorf("the restored handbook is another one (%v)", err)
	}
}
