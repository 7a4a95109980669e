package desk

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"halfshaft/services/fault"
)

func TestFilesWaitForWhoSentThemAndNotForLong(t *testing.T) {
	u := waitingIn(t, filepath.Join(t.TempDir(), "waiting"))
	at := time.Date(2026, 5, 18, 9, 0, 0, 0, time.UTC)
	files := []Upload{{"handbook_files/a.pdf", []byte("\n\n{}")}, {"parts.csv", []byte("part,title\n")}}
	name, err := u.keep("accounts/ida", files, at)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := u.keep("accounts/ida", files, at.Add(time.Minute)); err != nil || again != name {
		t.Errorf("the same files sent again are %s, %v; want %s", again, err, name)
	}
	if other, err := u.keep("accounts/iva", files, at); err != nil || other == name {
		t.Errorf("somebody else's files go by the same name: %v", err)
	}
	if u.take(name, "accounts/iva", at.Add(time.Minute)) != nil {
		t.Error("somebody else is given them")
	}
	u = waitingIn(t, u.dir) // after a restart
	u.clock = func() time.Time { return at.Add(2 * time.Minute) }
	if err := u.open(u.dir); err != nil {
		t.Fatal(err)
	}
	if got := u.take(name, "accounts/ida", at.Add(2*time.Minute)); len(got) != 2 || string(got[1].Bytes) != "part,title\n" || got[0].Name != "handbook_files/a.pdf" || string(got[0].Bytes) != "\n\n{}" {
		t.Errorf("after a restart: %v", got)
	}
	if u.take("../"+name, "accounts/ida", at) != nil {
		t.Error("a path is a name")
	}
	if u.take(name, "accounts/ida", at.Add(32*time.Minute)) != nil || u.take(name, "accounts/ida", at.Add(-time.Hour)) != nil {
		t.Error("they wait for ever")
	}
	if _, err := u.sweep(at.Add(32*time.Minute), ""); err != nil || left(t, u.dir) != 0 {
		t.Errorf("%d are left when their time is over, %v", left(t, u.dir), err)
	}
}

// What a kill left half written is never given, and goes at the next look; what was
// kept whole stays.
func TestWhatWasNotWrittenToItsEndIsSweptAndNeverGiven(t *testing.T) {
	u := waitingIn(t, t.TempDir())
	at := time.Date(2026, 5, 18, 9, 0, 0, 0, time.UTC)
	name, err := u.keep("accounts/ida", []Upload{{"parts.csv", []byte("part,title\n")}}, at)
	if err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(filepath.Join(u.dir, name))
	if err != nil {
		t.Fatal(err)
	}
	for cut := range len(whole) { // whatever a disk did to it
		if err := os.WriteFile(filepath.Join(u.dir, name), whole[:cut], 0o600); err != nil {
			t.Fatal(err)
		}
		if got := u.take(name, "accounts/ida", at); got != nil {
			t.Fatalf("of %d bytes %d are taken for all: %v", len(whole), cut, got)
		}
	}
	other := bytes.Replace(whole, []byte("title"), []byte("tilte"), 1)
	if err := os.WriteFile(filepath.Join(u.dir, name), other, 0o600); err != nil {
		t.Fatal(err)
	}
	if u.take(name, "accounts/ida", at) != nil {
		t.Error("other bytes are taken for what was kept")
	}
	kept, err := u.keep("accounts/ida", []Upload{{"builds.csv", []byte("serial\n")}}, at)
	if err != nil {
		t.Fatal(err)
	}
	for _, rubbish := range []string{".writing-123", "zzz"} {
		if err := os.WriteFile(filepath.Join(u.dir, rubbish), whole[:3], 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := u.sweep(at, ""); err != nil || left(t, u.dir) != 2 || u.take(kept, "accounts/ida", at) == nil {
		t.Errorf("%d are left, %v", left(t, u.dir), err)
	}
}

// waitingIn is a directory of files that wait, in which nothing is done later.
func waitingIn(t *testing.T, dir string) *uploads {
	t.Helper()
	return &uploads{dir: dir, later: func(time.Duration, func()) {}}
}

// What waits holds names and addresses: it goes when its time is over, though nobody
// comes to look, after a restart too.
func TestFilesThatWaitGoThoughNobodyComes(t *testing.T) {
	at := time.Date(2026, 5, 18, 9, 0, 0, 0, time.UTC)
	dir, now, wait := t.TempDir(), at, time.Duration(0)
	var then func()
	start := func() *uploads {
		u := waitingIn(t, dir)
		u.clock, u.later = func() time.Time { return now }, func(d time.Duration, do func()) { wait, then = d, do }
		if err := u.open(dir); err != nil {
			t.Fatal(err)
		}
		return u
	}
	for name, restart := range map[string]bool{"the same process": false, "the next": true} {
		now = at
		if _, err := start().keep("accounts/ida", []Upload{{"people.csv", []byte("name\n")}}, now); err != nil {
			t.Fatal(err)
		}
		if restart {
			now = now.Add(5 * time.Minute)
			then = nil
			start()
		}
		if now = now.Add(wait); then == nil || wait > 2*uploadKept {
			t.Fatalf("%s: nothing is looked at later: %v", name, wait)
		}
		if then(); left(t, dir) != 0 {
			t.Errorf("%s: %d wait for ever", name, left(t, dir))
		}
	}
}

func left(t *testing.T, dir string) int {
	t.Helper()
	all, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	return len(all)
}

// What waits is bounded, of everybody together and of each: whoever has filled their
// own share leaves room for others.
func TestWhatWaitsIsBounded(t *testing.T) {
	u := waitingIn(t, t.TempDir())
	at := time.Date(2026, 5, 18, 9, 0, 0, 0, time.UTC)
	large := func(n int) []Upload { return []Upload{{string(rune('a'+n)) + ".csv", make([]byte, mostUnpacked-1000)}} }
	for n := range mostOfOne / mostUnpacked {
		if _, err := u.keep("accounts/ida", large(n), at); err != nil {
			t.Fatalf("file %d: %v", n, err)
		}
	}
	_, err := u.keep("accounts/ida", large(9), at.Add(10*time.Minute))
	refusedFor(t, err, "OWN_UPLOADS_FULL", 20*time.Minute)
	if _, err := u.keep("accounts/ida", large(0), at); err != nil {
		t.Errorf("what waits already is refused: %v", err)
	}
	if _, err := u.keep("accounts/iva", large(0), at); err != nil {
		t.Errorf("others find no room: %v", err)
	}
	u.drop(uploadName("accounts/ida", large(0)))
	if _, err := u.keep("accounts/ida", large(9), at); err != nil {
		t.Errorf("there is room again: %v", err)
	}
}

func TestOfEverybodyTogetherNoMoreWaitsThanThereIsRoomFor(t *testing.T) {
	at := time.Date(2026, 5, 18, 9, 0, 0, 0, time.UTC)
	var all []spooled
	for n := range mostUploaded / mostOfOne {
		all = append(all, spooled{fmt.Sprint("accounts/a", n), at.Add(time.Duration(n) * time.Minute), mostOfOne})
	}
	refusedFor(t, room(all, "accounts/b", 1, at), "UPLOADS_FULL", 30*time.Minute)
	if err := room(all[1:], "accounts/b", mostOfOne, at); err != nil {
		t.Errorf("what fits is refused: %v", err)
	}
	refusedFor(t, room(nil, "accounts/b", mostOfOne+1, at), "OWN_UPLOADS_FULL", -time.Second) // nothing is in the way
}

// refusedFor checks why something is refused, and for how long: a second longer
// than what is in the way still waits.
func refusedFor(t *testing.T, err error, reason string, waits time.Duration) {
	t.Helper()
	var e *fault.Error
	if !errors.As(err, &e) || e.Kind != fault.Exhausted || e.Reason != reason || e.RetryAfter != waits+time.Second {
		t.Errorf("got %+v, want %s for %s", err, reason, waits)
	}
}

func archive(t testing.TB, files map[string]string) []byte {
	t.Helper()
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for name, text := range files {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(text)); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// An archive is read as the folder that it is of; what leads out of it, what is too
// much and what no import reads is refused, and nothing of it is taken.
func TestAnArchiveIsTakenInAsAFolderAndHeldToItsBounds(t *testing.T) {
	many := map[string]string{}
	for n := range mostFiles + 1 {
		many["export/"+strings.Repeat("x", n%90+1)+string(rune('a'+n/90))+".csv"] = ""
	}
	for name, c := range map[string]struct {
		raw  []byte
		want []string
		says string
	}{
		"an export": {archive(t, map[string]string{"export/parts.csv": "part", "export/books/b.yaml": "a: b", "export/handbook_files/a.pdf": "%PDF", "export/.DS_Store": "x", "__MACOSX/._a": "x"}),
			[]string{"books/b.yaml", "handbook_files/a.pdf", "parts.csv"}, ""},
		"handbooks alone":             {archive(t, map[string]string{"handbook_files/a.pdf": "%PDF"}), []string{"handbook_files/a.pdf"}, ""},
		"a way out":                   {archive(t, map[string]string{"../../parts.csv": "part"}), nil, "plain files below one folder"},
		"a way out as another system": {archive(t, map[string]string{`..\parts.csv`: "part"}), nil, "plain files below one folder"},
		"from the root":               {archive(t, map[string]string{"/etc/parts.csv": "part"}), nil, "plain files below one folder"},
		"a program":                   {archive(t, map[string]string{"export/run.exe": "x"}), nil, "run.exe"},
		"a PDF that is no handbook":   {archive(t, map[string]string{"export/a.pdf": "x"}), nil, "a.pdf"},
		"an archive in an archive":    {archive(t, map[string]string{"export/more.zip": "x"}), nil, "more.zip"},
		"twice but for capitals":      {archive(t, map[string]string{"a/parts.csv": "x", "a/Parts.csv": "y"}), nil, "came twice"},
		"a file that is a folder":     {archive(t, map[string]string{"a.csv": "x", "A.csv/b.csv": "y"}), nil, "is both"},
		"very deep":                   {archive(t, map[string]string{"a/b/c/d/e/f.csv": "x"}), nil, "f.csv"},
		"too many":                    {archive(t, many), nil, "at most 1000 files"},
		"a bomb":                      {archive(t, map[string]string{"parts.csv": strings.Repeat("0", mostUnpacked+1)}), nil, "at most 32 MiB"},
		"no archive":                  {[]byte("PK"), nil, "a zip archive that can be read"},
		"nothing":                     {archive(t, nil), nil, "one file at least"},
	} {
		var s sentFiles
		err := s.unpack("export.zip", c.raw)
		var files []Upload
		if err == nil {
			files, err = s.all()
		}
		var got []string
		for _, f := range files {
			got = append(got, f.Name)
		}
		if (err != nil) != (c.says != "") || err != nil && !strings.Contains(err.Error(), c.says) || !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, %v; want %v, %q", name, got, err, c.want, c.says)
		}
	}
}

// What is passed over or refused by its name is not unpacked: nothing would bound it.
// The entries are damaged, so that whoever reads them fails; of names only so many
// are said, and not all of a long one.
func TestWhatIsNotTakenOfAnArchiveIsNotUnpacked(t *testing.T) {
	for name, c := range map[string]struct{ passed, says string }{
		"what a program left there": {"__MACOSX/%d", ""},
		"what no import reads":      {strings.Repeat("x", 5_000) + "%d.exe", "and 88 more"},
	} {
		var out bytes.Buffer
		z := zip.NewWriter(&out)
		add := func(name, text string) {
			w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
			if err == nil {
				_, err = w.Write([]byte(text))
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		add("parts.csv", "part")
		for n := range 100 {
			add(fmt.Sprintf(c.passed, n), "bomb")
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		var s sentFiles
		err := s.unpack("export.zip", bytes.ReplaceAll(out.Bytes(), []byte("bomb"), []byte("bang")))
		if err == nil {
			_, err = s.all()
		}
		if c.says == "" && err != nil || c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says) || len(err.Error()) > 10_000) {
			t.Errorf("%s: %.2000v, want %q", name, err, c.says)
		}
	}
}
