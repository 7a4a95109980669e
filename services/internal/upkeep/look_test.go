package upkeep

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"halfshaft/services/internal/etcdtest"
)

func TestALookSaysHowTheStoreIs(t *testing.T) {
	s, err := Look(t.Context(), Config{Client: etcdtest.Client(t)})
	if err != nil || s.Word != "well" || s.Do != "" || s.Usage.File <= 0 || len(s.Alarms) != 0 {
		t.Errorf("got %+v, %v", s, err)
	}
}

func TestSnapshotsAreThoseThatCount(t *testing.T) {
	dir := t.TempDir()
	if none, err := Snapshots(filepath.Join(dir, "none")); err != nil || len(none) != 0 {
		t.Errorf("without a directory: %v, %v", none, err)
	}
	for name, text := range map[string]string{"2026-05-17.db": "older", "2026-05-18.db": "newest!", ".lock": "", "notes.txt": "x", ".taking-1": ""} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	all, err := Snapshots(dir)
	if err != nil || len(all) != 2 || all[1] != (Proved{time.Date(2026, 5, 18, 0, 0, 0, 0, time.UTC), 7}) {
		t.Errorf("got %v, %v", all, err)
	}
}
