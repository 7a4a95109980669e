package aldermoor_test

import (
	"bytes"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"halfshaft/testdata/aldermoor"
)

// The files are what the generator writes: nobody has mended one by hand.
func TestTheFilesAreWhatTheGeneratorWrites(t *testing.T) {
	dir := t.TempDir()
	run := exec.Command("go", "run", "./generate", dir)
	if out, err := run.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	err := fs.WalkDir(aldermoor.Files, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Dir(path) == "programmes" || filepath.Dir(path) == "amendments" { // those are written by hand
			return err
		}
		want, err := fs.ReadFile(aldermoor.Files, path)
		if err != nil {
			return err
		}
		got, err := os.ReadFile(filepath.Join(dir, path))
		if err != nil {
			return err
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s differs: run go run ./testdata/aldermoor/generate", path)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
