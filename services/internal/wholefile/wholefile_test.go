package wholefile_test

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"halfshaft/services/internal/wholefile"
)

func TestAFileIsReplacedOrCreatedWholeAndForItsOwnerAlone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "secrets.key")
	is := func(want string) {
		t.Helper()
		got, err := os.ReadFile(path)
		info, errStat := os.Stat(path)
		if err := errors.Join(err, errStat); err != nil || string(got) != want || info.Mode().Perm() != 0o600 {
			t.Fatalf("got %q, mode %v, %v; want %q, 0600", got, info.Mode(), err, want)
		}
		if names := listed(t, filepath.Dir(path)); len(names) != 1 {
			t.Fatalf("beside the file is left: %v", names)
		}
	}
	if err := wholefile.Create(path, []byte("first")); err != nil {
		t.Fatal(err)
	}
	is("first")
	if err := wholefile.Create(path, []byte("second")); !errors.Is(err, fs.ErrExist) {
		t.Fatalf("created over what is there: %v", err)
	}
	is("first")
	if err := wholefile.Replace(path, []byte("third")); err != nil {
		t.Fatal(err)
	}
	is("third")
}

func TestWhereAFileCannotStandWhatWasThereStays(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "taken")
	if err := os.MkdirAll(filepath.Join(path, "by a directory"), 0o700); err != nil {
		t.Fatal(err)
	}
	for name, write := range map[string]func(string, []byte) error{"Replace": wholefile.Replace, "Create": wholefile.Create} {
		if err := write(path, []byte("x")); err == nil {
			t.Errorf("%s over a directory: no error", name)
		}
		if err := write(filepath.Join(dir, "nowhere", "file"), []byte("x")); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s below a directory that is not there: %v", name, err)
		}
	}
	if names := listed(t, dir); len(names) != 1 || names[0] != "taken" {
		t.Errorf("left: %v", names)
	}
}

// Whoever reads while many write sees one of what was written, and of many that
// create one file, one does.
func TestReadersSeeAWholeFileAndOneCreatorWins(t *testing.T) {
	dir := t.TempDir()
	replaced, created := filepath.Join(dir, "replaced"), filepath.Join(dir, "created")
	text := func(n int) []byte { return bytes.Repeat([]byte{byte('a' + n)}, 100_000) }
	if err := wholefile.Replace(replaced, text(0)); err != nil {
		t.Fatal(err)
	}
	var writers sync.WaitGroup
	won := make(chan int, 8)
	for n := range 8 {
		writers.Go(func() {
			if err := wholefile.Replace(replaced, text(n)); err != nil {
				t.Error(err)
			}
			switch err := wholefile.Create(created, text(n)); {
			case err == nil:
				won <- n
			case !errors.Is(err, fs.ErrExist):
				t.Error(err)
			}
			got, err := os.ReadFile(replaced)
			if err != nil || len(got) != 100_000 || !bytes.Equal(got, text(int(got[0]-'a'))) {
				t.Errorf("read %d bytes that nobody wrote: %v", len(got), err)
			}
		})
	}
	writers.Wait()
	close(won)
	var winners []int
	for n := range won {
		winners = append(winners, n)
	}
	got, err := os.ReadFile(created)
	if err != nil || len(winners) != 1 || !bytes.Equal(got, text(winners[0])) {
		t.Errorf("%d made the file: %v", len(winners), err)
	}
}

func TestSweepRemovesWhatIsHalfWrittenAndNothingElse(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data [of the works") // its name is no pattern
	for n, name := range []string{".writing-1", "kept", "ab/.writing-2", "ab/kept", ".hidden", "a/b/.writing-3"} {
		path := filepath.Join(dir, name)
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o700), os.WriteFile(path, fmt.Append(nil, n), 0o600)); err != nil {
			t.Fatal(err)
		}
		if half := wholefile.Half(path); half != (n == 0 || n == 2 || n == 5) {
			t.Errorf("%s is half written: %v", name, half)
		}
	}
	if err := wholefile.Sweep(dir); err != nil {
		t.Fatal(err)
	}
	if got := fmt.Sprint(listed(t, dir), listed(t, filepath.Join(dir, "ab")), listed(t, filepath.Join(dir, "a/b"))); got != "[.hidden a ab kept] [kept] [.writing-3]" {
		t.Errorf("left: %s", got)
	}
	if err := wholefile.Sweep(filepath.Join(dir, "nowhere")); err != nil {
		t.Error(err)
	}
}

func listed(t *testing.T, dir string) (names []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}
