package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"halfshaft/testdata/aldermoor"
)

func TestASnapshotOfARunningWorksIsRestoredIntoAnotherDirectory(t *testing.T) {
	data := demoData(t)
	p := serve(t, data, "--date", aldermoor.Today.String())
	out, ok := halfshaft(t, data, "snapshot")
	if !ok || !strings.Contains(out, "restored and compared") {
		t.Fatalf("got %v:\n%s", ok, out)
	}
	want, _ := halfshaft(t, data, "schedule", aldermoor.TourSerial)
	p.stop(t)
	files, err := filepath.Glob(filepath.Join(data, "snapshots", "*.db"))
	if err != nil || len(files) != 1 {
		t.Fatalf("got %v, %v; want one snapshot", files, err)
	}
	other := filepath.Join(t.TempDir(), "restored")
	if out, ok := halfshaft(t, other, "restore", files[0]); !ok {
		t.Fatalf("the restore was refused:\n%s", out)
	}
	key, err := os.ReadFile(filepath.Join(data, "secrets", "master.key"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Join(other, "secrets"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(other, "secrets", "master.key"), key, 0o600); err != nil {
		t.Fatal(err)
	}
	if got, _ := halfshaft(t, other, "schedule", aldermoor.TourSerial); got != want {
		t.Errorf("the restored works says\n%s\nthe old one said\n%s", got, want)
	}
	if out, ok := halfshaft(t, data, "restore", files[0]); ok {
		t.Errorf("restored over a store that was there:\n%s", out)
	}
}
