//go:build faults

package services_test

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// seeded is a fault that somebody might make: some lines of a file in place of
// others. It is never in the tree: the compiler is shown the file with the
// fault for the time of one test (go test -overlay).
type seeded struct {
	name     string // "one method does not ask whose vehicle it is"
	file     string // from the root of the tree
	old, new string // old stands in the file once
	pkg      string // where the test is that must fail
	run      string // which
}

// TestEachSeededFaultIsCaught seeds the faults one by one and expects the named
// test to fail with each, and to pass without.
func TestEachSeededFaultIsCaught(t *testing.T) {
	caught, tried := 0, 0
	sound := map[[2]string]bool{} // tests that were seen to pass without a fault
	for _, s := range seededFaults {
		t.Run(s.name, func(t *testing.T) {
			tried++
			if at := [2]string{s.pkg, s.run}; !sound[at] {
				if out, err := goTest(t, s, ""); err != nil {
					t.Fatalf("fails without the fault:\n%s", tail(out))
				}
				sound[at] = true
			}
			out, err := goTest(t, s, overlay(t, s))
			switch {
			case err == nil:
				t.Fatalf("%s %s does not notice", s.pkg, s.run)
			case !strings.Contains(out, "--- FAIL: "):
				t.Fatalf("no test failed, something else did:\n%s", tail(out))
			}
			caught++
		})
	}
	t.Logf("%d of %d seeded faults are caught", caught, tried)
}

// overlay writes the file with its fault, and the list that shows it to the
// compiler.
func overlay(t *testing.T, s seeded) string {
	t.Helper()
	path, err := filepath.Abs(filepath.Join("..", s.file))
	if err != nil {
		t.Fatal(err)
	}
	source, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(source), s.old); n != 1 {
		t.Fatalf("%s has the place of the fault %d times, want once:\n%s", s.file, n, s.old)
	}
	dir := t.TempDir()
	faulty := filepath.Join(dir, filepath.Base(s.file))
	if err := os.WriteFile(faulty, []byte(strings.Replace(string(source), s.old, s.new, 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	list, err := json.Marshal(map[string]any{"Replace": map[string]string{path: faulty}})
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "overlay.json")
	if err := os.WriteFile(out, list, 0o600); err != nil {
		t.Fatal(err)
	}
	return out
}

// goTest runs the test of a fault, with the overlay when there is one.
func goTest(t *testing.T, s seeded, overlay string) (string, error) {
	t.Helper()
	args := []string{"test", "-count=1", "-vet=off", "-run", s.run, "-v"}
	if overlay != "" {
		args = append(args, "-overlay", overlay)
	}
	args = append(args, s.pkg)
	if draws(t, s.pkg) { // what it draws to show the fault is not to be kept as a case
		args = append(args, "-rapid.nofailfile")
	}
	run := exec.CommandContext(t.Context(), "go", args...)
	run.Dir = ".."
	run.Env = append(os.Environ(), overlaid+"="+overlay)
	out, err := run.CombinedOutput()
	if err == nil && !strings.Contains(string(out), "--- PASS: ") {
		t.Fatalf("%s %s runs no test", s.pkg, s.run)
	}
	return string(out), err
}

// draws reports whether a package tests with drawn values.
func draws(t *testing.T, pkg string) bool {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("..", pkg, "*_test.go"))
	if err != nil || len(files) == 0 {
		t.Fatalf("%s has no tests: %v", pkg, err)
	}
	for _, file := range files {
		source, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(source), "\t\"pgregory.net/rapid\"\n") {
			return true
		}
	}
	return false
}

// tail is the end of an output, which says what went wrong.
func tail(out string) string {
	const most = 3000
	return out[max(0, len(out)-most):]
}
