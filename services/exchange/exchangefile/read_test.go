package exchangefile

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
)

func TestOfADirectoryTheFilesWithAKnownEndingAreTaken(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{
		"builds.csv", "WORKS.XLSX", "releases/R1.yaml", "releases/old/R0.yml", "notes.txt", "README",
		".hidden.csv", ".git/builds.csv", "~$WORKS.XLSX", "builds.csv.bak",
	} {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	// A file that is named itself is taken whatever its ending, so that whoever
	// named it is told; one that is named twice is taken once.
	got, err := Files([]string{dir, filepath.Join(dir, "builds.csv"), filepath.Join(dir, "notes.txt")})
	if err != nil {
		t.Fatal(err)
	}
	for i, path := range got {
		got[i], _ = filepath.Rel(dir, path)
	}
	want := []string{"WORKS.XLSX", "builds.csv", "notes.txt", "releases/R1.yaml", "releases/old/R0.yml"}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if got, err := Files([]string{filepath.Join(dir, "gone")}); err == nil {
		t.Errorf("of a directory that is not there: %q", got)
	}
}

func TestWhatIsNoFileOfTheWorksIsRefusedUnread(t *testing.T) {
	t.Run("another ending", func(t *testing.T) {
		_, faults := read(t, "builds.ods", []byte("x"))
		only(t, faults, "ods", "a file ending in .csv, .xlsx, .yaml or .yml")
	})
	t.Run("a directory with the name of a file", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "builds.csv")
		if err := os.Mkdir(path, 0o700); err != nil {
			t.Fatal(err)
		}
		_, faults := readFile(t, path)
		only(t, faults, "a regular file")
	})
	// A file with holes takes no room on the disk.
	for _, name := range []string{"builds.csv", "works.xlsx"} {
		t.Run("half a gigabyte of "+name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), name)
			f, err := os.Create(path)
			if err != nil {
				t.Fatal(err)
			}
			if err := f.Truncate(MaxFileBytes + 1); err != nil {
				t.Fatal(err)
			}
			f.Close()
			_, faults := readFile(t, path)
			only(t, faults, "at most 512 MiB")
		})
	}
}

func TestOnlyItsOwnerMayReadAnExport(t *testing.T) {
	// The tables of people hold personal data.
	for format, want := range map[string]string{"csv": "people.csv", "xlsx": "works.xlsx"} {
		dir := filepath.Join(t.TempDir(), "export")
		w, err := NewWriter(dir, format)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range []proto.Message{&ownerv1.Person{Name: "people/p1", FullName: "Ida Penrose"}, &buildv1.Release{Name: "releases/R1"}} {
			if err := w.Record(m); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		for _, name := range []string{".", want, "releases", "releases/R1.yaml"} {
			info, err := os.Stat(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			if info.Mode().Perm()&0o077 != 0 {
				t.Errorf("%s: %s has the mode %s", format, name, info.Mode())
			}
		}
	}
}
