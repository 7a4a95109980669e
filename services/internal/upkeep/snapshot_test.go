package upkeep

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.etcd.io/etcd/api/v3/v3rpc/rpctypes"
	clientv3 "go.etcd.io/etcd/client/v3"
	"pgregory.net/rapid"

	"halfshaft/services/fault"
	"halfshaft/services/internal/embedetcd"
	"halfshaft/services/internal/etcdtest"
)

func reason(err error) string {
	var f *fault.Error
	if errors.As(err, &f) {
		return f.Reason
	}
	return ""
}

// snapshots lists what stands in a snapshot directory, beside its lock.
func snapshots(t testing.TB, dir string) []string {
	t.Helper()
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, f := range files {
		if f.Name() != lockName {
			all = append(all, f.Name())
		}
	}
	return all
}

// history writes keys, changes some, deletes some, and ties one to a lease.
func history(t testing.TB, c *clientv3.Client) {
	t.Helper()
	for i := range 600 { // more than two pages of a read
		put(t, c, fmt.Sprintf("/k/%03d", i), fmt.Sprint("the value of ", i))
	}
	for i := range 100 {
		put(t, c, fmt.Sprintf("/k/%03d", 3*i), "changed")
	}
	if _, err := c.Delete(t.Context(), "/k/05", clientv3.WithPrefix()); err != nil {
		t.Fatal(err)
	}
	lease, err := c.Grant(t.Context(), 600)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.Put(t.Context(), "/leased", "x", clientv3.WithLease(lease.ID)); err != nil {
		t.Fatal(err)
	}
}

// all reads every key of a running store, with its value and revisions.
func all(t testing.TB, c *clientv3.Client) (entries []string, revision int64) {
	t.Helper()
	resp, err := c.Get(t.Context(), "\x00", clientv3.WithFromKey())
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range resp.Kvs {
		entries = append(entries, fmt.Sprintf("%s=%s %d %d %d", e.Key, e.Value, e.CreateRevision, e.ModRevision, e.Version))
	}
	return entries, resp.Header.Revision
}

func TestASnapshotRestoresToWhatWasThere(t *testing.T) {
	for name, prepare := range map[string]func(*testing.T, *clientv3.Client){
		"with a history":    func(t *testing.T, c *clientv3.Client) { history(t, c) },
		"after compactions": func(t *testing.T, c *clientv3.Client) { history(t, c); compactAll(t, c) },
		"when everything was deleted and compacted": func(t *testing.T, c *clientv3.Client) {
			history(t, c)
			gone, err := c.Delete(t.Context(), "\x00", clientv3.WithFromKey())
			if err != nil {
				t.Fatal(err)
			}
			if _, err := c.Compact(t.Context(), gone.Header.Revision, clientv3.WithCompactPhysical()); err != nil {
				t.Fatal(err)
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			s := etcdtest.Start(t)
			prepare(t, s.Client())
			c := lookAfter(t, s)
			want, revision := all(t, s.Client())
			taken, err := Take(t.Context(), c)
			if err != nil {
				t.Fatal(err)
			}
			if taken.Revision != revision || taken.Keys != len(want) || taken.Path != filepath.Join(c.SnapshotDir, "2030-06-01.db") {
				t.Errorf("got %+v, want %d keys at revision %d", taken, len(want), revision)
			}
			if diff := cmp.Diff([]string{"2030-06-01.db"}, snapshots(t, c.SnapshotDir)); diff != "" {
				t.Error(diff)
			}
			// The secrets may have been put back before the store.
			data := t.TempDir()
			for _, d := range []string{"secrets", "etcd"} {
				if err := os.Mkdir(filepath.Join(data, d), 0o700); err != nil {
					t.Fatal(err)
				}
			}
			restored, err := Restore(t.Context(), taken.Path, data, nil)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(taken, restored); diff != "" {
				t.Error(diff)
			}
			again := etcdtest.StartIn(t, embedetcd.Config{Dir: data})
			got, lifted := all(t, again.Client())
			if diff := cmp.Diff(want, got); diff != "" {
				t.Error(diff)
			}
			if lifted < revision+embedetcd.RevisionBump {
				t.Errorf("the revision went from %d to %d", revision, lifted)
			}
			// Who asks for what came after the snapshot is told to begin anew.
			_, err = again.Client().Get(t.Context(), "/k", clientv3.WithRev(revision+1))
			if !errors.Is(err, rpctypes.ErrCompacted) {
				t.Errorf("the revision after the snapshot answers %v, want %v", err, rpctypes.ErrCompacted)
			}
			put(t, again.Client(), "/new", "written")
		})
	}
}

func TestASnapshotOfNothingDoesNotCount(t *testing.T) {
	s := etcdtest.Start(t)
	if _, err := Take(t.Context(), lookAfter(t, s)); reason(err) != "SNAPSHOT_DAMAGED" {
		t.Errorf("got %v", err)
	}
}

func TestASnapshotIsTakenWhileTheStoreIsWritten(t *testing.T) {
	s := etcdtest.Start(t)
	history(t, s.Client())
	c := lookAfter(t, s)
	ctx, cancel := context.WithCancel(t.Context())
	stopped, began := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		for i := 0; ctx.Err() == nil; i++ {
			if _, err := s.Client().Put(ctx, "/written/meanwhile", fmt.Sprint(i)); err == nil && i == 0 {
				close(began)
			}
		}
	}()
	<-began
	if _, err := Take(t.Context(), c); err != nil {
		t.Error(err)
	}
	cancel()
	<-stopped
}

// tampering gives each snapshot of a client to change on its way.
type tampering struct {
	clientv3.Maintenance
	change func([]byte) []byte
}

func (m tampering) Snapshot(ctx context.Context) (io.ReadCloser, error) {
	r, err := m.Maintenance.Snapshot(ctx)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	b, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	return io.NopCloser(bytes.NewReader(m.change(b))), nil
}

// seal makes the checksum right again after a change of the content.
func seal(content []byte) []byte {
	sum := sha256.Sum256(content)
	return append(content, sum[:]...)
}

func TestADamagedSnapshotIsRefusedLoudlyAndTheLastGoodOneStays(t *testing.T) {
	s := etcdtest.Start(t)
	history(t, s.Client())
	var said journal
	c := lookAfter(t, s)
	c.Logger = said.logger()
	c.Keep = 1
	good, err := Take(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(good.Path)
	if err != nil {
		t.Fatal(err)
	}
	genuine := s.Client().Maintenance
	defer func() { s.Client().Maintenance = genuine }()
	said.take()
	for name, change := range map[string]func([]byte) []byte{
		"a byte flipped in the middle":   func(b []byte) []byte { b[len(b)/2] ^= 1; return b },
		"a byte flipped at the start":    func(b []byte) []byte { b[0] ^= 1; return b },
		"a byte flipped in the checksum": func(b []byte) []byte { b[len(b)-1] ^= 1; return b },
		"a byte lost at the end":         func(b []byte) []byte { return b[:len(b)-1] },
		"the checksum lost":              func(b []byte) []byte { return b[:len(b)-sha256.Size] },
		"half of it lost":                func(b []byte) []byte { return b[:len(b)/2] },
		"nothing left":                   func([]byte) []byte { return nil },
		"a page of noise under a good checksum": func(b []byte) []byte {
			return seal(bytes.Repeat([]byte("noise..."), 1024))
		},
		"another value under a good checksum": func(b []byte) []byte {
			return seal(bytes.ReplaceAll(b[:len(b)-sha256.Size], []byte("the value of 7"), []byte("the value of 8")))
		},
		"another key under a good checksum": func(b []byte) []byte {
			return seal(bytes.ReplaceAll(b[:len(b)-sha256.Size], []byte("/k/599"), []byte("/k/699")))
		},
	} {
		t.Run(name, func(t *testing.T) {
			s.Client().Maintenance = tampering{genuine, change}
			if _, err := Take(t.Context(), c); reason(err) != "SNAPSHOT_DAMAGED" {
				t.Errorf("got %v", err)
			}
			if lines := said.take(); len(lines) != 1 || !strings.Contains(lines[0], "level=ERROR") || !strings.Contains(lines[0], "damaged") {
				t.Errorf("it said %q", lines)
			}
			if diff := cmp.Diff([]string{"2030-06-01.db"}, snapshots(t, c.SnapshotDir)); diff != "" {
				t.Error(diff)
			}
			if after, err := os.ReadFile(good.Path); err != nil || !bytes.Equal(before, after) {
				t.Errorf("the last good snapshot was touched (%v)", err)
			}
		})
	}
}

func TestADamagedSnapshotIsNotRestored(t *testing.T) {
	s := etcdtest.Start(t)
	history(t, s.Client())
	good, err := Take(t.Context(), lookAfter(t, s))
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(good.Path)
	if err != nil {
		t.Fatal(err)
	}
	for name, content := range map[string][]byte{
		"flipped":  append(append(bytes.Clone(b[:9999]), b[9999]^0x80), b[10000:]...),
		"cut":      b[:len(b)-4096],
		"a letter": []byte("Dear halfshaft"),
		"noise":    seal(bytes.Repeat([]byte("noise..."), 1024)),
	} {
		t.Run(name, func(t *testing.T) {
			path, data := filepath.Join(t.TempDir(), "bad.db"), filepath.Join(t.TempDir(), "data")
			if err := os.WriteFile(path, content, 0o600); err != nil {
				t.Fatal(err)
			}
			if _, err := Restore(t.Context(), path, data, nil); reason(err) != "SNAPSHOT_DAMAGED" {
				t.Errorf("got %v", err)
			}
			if _, err := os.Stat(filepath.Join(data, "etcd")); !errors.Is(err, fs.ErrNotExist) {
				t.Errorf("it left a store behind (%v)", err)
			}
		})
	}
	if _, err := Restore(t.Context(), filepath.Join(t.TempDir(), "none.db"), t.TempDir(), nil); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a snapshot that is not there: %v", err)
	}
}

func TestAStoreIsNeverRestoredOver(t *testing.T) {
	s := etcdtest.Start(t)
	put(t, s.Client(), "/a", "in the snapshot")
	taken, err := Take(t.Context(), lookAfter(t, s))
	if err != nil {
		t.Fatal(err)
	}
	data := t.TempDir()
	other, err := embedetcd.Start(t.Context(), embedetcd.Config{Dir: data})
	if err != nil {
		t.Fatal(err)
	}
	put(t, other.Client(), "/a", "here already")
	if _, err := Restore(t.Context(), taken.Path, data, nil); reason(err) != "DATA_DIR_IN_USE" {
		t.Errorf("over a running store: %v", err)
	}
	if err := other.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := Restore(t.Context(), taken.Path, data, nil); reason(err) != "DATA_DIR_NOT_EMPTY" {
		t.Errorf("over a stopped store: %v", err)
	}
	again := etcdtest.StartIn(t, embedetcd.Config{Dir: data})
	if got, err := again.Client().Get(t.Context(), "/a"); err != nil || string(got.Kvs[0].Value) != "here already" {
		t.Errorf("the store was touched: %v, %v", got, err)
	}
}

// A reader of a file with a right checksum and wrong pages answers with an
// error or with other contents; that it never ends the process is what the
// test shows by ending itself.
func TestReadingADamagedFileNeverEndsTheProcess(t *testing.T) {
	s := etcdtest.Start(t)
	history(t, s.Client())
	dir := t.TempDir()
	path := filepath.Join(dir, "good.db")
	if err := download(t.Context(), s.Client(), path); err != nil {
		t.Fatal(err)
	}
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		b := bytes.Clone(good[:len(good)-sha256.Size])
		for range rapid.IntRange(1, 30).Draw(t, "changes") {
			b[rapid.IntRange(0, len(b)-1).Draw(t, "at")] = rapid.Byte().Draw(t, "byte")
		}
		bad := filepath.Join(dir, "bad.db")
		if err := os.WriteFile(bad, seal(b), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := checksum(bad); err != nil {
			t.Fatal(err)
		}
		if _, err := fileContents(context.Background(), bad); err != nil && reason(err) != "SNAPSHOT_DAMAGED" {
			t.Fatalf("got %v", err)
		}
	})
}

// A page that is below itself has no end: bbolt took all memory that there was.
func TestAPageBelowItselfIsDamage(t *testing.T) {
	s := etcdtest.Start(t)
	for n := range 300 {
		put(t, s.Client(), fmt.Sprintf("/many/%03d", n), strings.Repeat("x", 200))
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "good.db")
	if err := download(t.Context(), s.Client(), path); err != nil {
		t.Fatal(err)
	}
	if _, err := fileContents(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	good = good[:len(good)-sha256.Size]
	refused, page := 0, os.Getpagesize()
	for at := 2 * page; at+page <= len(good); at += page {
		if binary.NativeEndian.Uint16(good[at+8:]) != 0x01 { // bbolt's BranchPageFlag
			continue
		}
		b := bytes.Clone(good)
		binary.NativeEndian.PutUint64(b[at+16+8:], uint64(at/page)) // the page below it that comes first
		bad := filepath.Join(dir, "bad.db")
		if err := os.WriteFile(bad, seal(b), 0o600); err != nil {
			t.Fatal(err)
		}
		switch _, err := fileContents(t.Context(), bad); {
		case err != nil && reason(err) != "SNAPSHOT_DAMAGED":
			t.Fatal(err)
		case err != nil:
			refused++ // others are of no use any more
		}
	}
	if refused == 0 {
		t.Error("no page was put below itself")
	}
}

func TestOldSnapshotsGoAndTheProvedOneStays(t *testing.T) {
	for name, c := range map[string]struct {
		there []string
		keep  int
		want  []string
	}{
		"fewer than are kept": {[]string{"2030-05-31.db", "2030-06-01.db"}, 3, []string{"2030-05-31.db", "2030-06-01.db"}},
		"one too many":        {[]string{"2030-05-30.db", "2030-05-31.db", "2030-06-01.db"}, 2, []string{"2030-05-31.db", "2030-06-01.db"}},
		"only one kept":       {[]string{"2029-12-31.db", "2030-05-31.db", "2030-06-01.db"}, 1, []string{"2030-06-01.db"}},
		"a clock that ran ahead": {
			[]string{"2029-12-31.db", "2030-06-01.db", "2093-01-01.db", "2093-01-02.db"}, 2, []string{"2030-06-01.db", "2093-01-02.db"},
		},
		"files of others": {
			[]string{"2030-02-30.db", "2030-05-31.db", "2030-06-01.db", "2030-06-01.db.gz", "notes.txt"}, 1,
			[]string{"2030-02-30.db", "2030-06-01.db", "2030-06-01.db.gz", "notes.txt"},
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			for _, n := range c.there {
				if err := os.WriteFile(filepath.Join(dir, n), nil, 0o600); err != nil {
					t.Fatal(err)
				}
			}
			if err := prune(dir, "2030-06-01.db", c.keep); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(c.want, snapshots(t, dir)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestASnapshotADayIsKeptForTwoWeeks(t *testing.T) {
	s := etcdtest.Start(t)
	put(t, s.Client(), "/a", "b")
	c := lookAfter(t, s)
	c.Keep = 2
	now := day
	c.Clock = func() time.Time { return now }
	// Twice on the second day: the later one takes the place of the earlier.
	for _, hours := range []int{0, 24, 30, 48} {
		now = day.Add(time.Duration(hours) * time.Hour)
		if _, err := Take(t.Context(), c); err != nil {
			t.Fatal(err)
		}
	}
	if diff := cmp.Diff([]string{"2030-06-02.db", "2030-06-03.db"}, snapshots(t, c.SnapshotDir)); diff != "" {
		t.Error(diff)
	}
	if got := (Config{}).normal().Keep; got != 14 { // the figure
		t.Errorf("%d are kept when nobody says otherwise", got)
	}
}

func TestOneSnapshotIsTakenAtATime(t *testing.T) {
	s := etcdtest.Start(t)
	put(t, s.Client(), "/a", "b")
	c := lookAfter(t, s)
	unlock, err := lockSnapshots(c.SnapshotDir)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Take(t.Context(), c); reason(err) != "SNAPSHOT_UNDER_WAY" {
		t.Errorf("got %v", err)
	}
	unlock()
	if _, err := Take(t.Context(), c); err != nil {
		t.Error(err)
	}
}

func TestWhatADeadProcessLeftIsClearedAway(t *testing.T) {
	s := etcdtest.Start(t)
	put(t, s.Client(), "/a", "b")
	c := lookAfter(t, s)
	left := filepath.Join(c.SnapshotDir, takingName+"123", "scratch", "etcd")
	if err := os.MkdirAll(left, 0o700); err != nil {
		t.Fatal(err)
	}
	if _, err := Take(t.Context(), c); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"2030-06-01.db"}, snapshots(t, c.SnapshotDir)); diff != "" {
		t.Error(diff)
	}
}

func TestASnapshotNeverFillsTheDiskOfTheStore(t *testing.T) {
	s := etcdtest.Start(t)
	put(t, s.Client(), "/a", "b")
	c := lookAfter(t, s).normal()
	for _, step := range []struct {
		free int64
		want string
	}{{0, "SNAPSHOT_NO_ROOM"}, {logBytes, "SNAPSHOT_NO_ROOM"}, {math.MaxInt64, ""}} {
		_, err := c.take(t.Context(), func(string) (int64, error) { return step.free, nil })
		if (err != nil) != (step.want != "") || reason(err) != step.want {
			t.Errorf("with %d bytes free: %v, want %q", step.free, err, step.want)
		}
	}
	if free, err := diskRoom(c.SnapshotDir); err != nil || free <= 0 {
		t.Errorf("the disk has %d bytes free, %v", free, err)
	}
}

func TestASnapshotStopsWithItsContext(t *testing.T) {
	s := etcdtest.Start(t)
	history(t, s.Client())
	var said journal
	c := lookAfter(t, s)
	c.Logger = said.logger()
	ctx, cancel := context.WithCancel(t.Context())
	genuine := s.Client().Maintenance
	defer func() { s.Client().Maintenance = genuine }()
	s.Client().Maintenance = tampering{genuine, func(b []byte) []byte { cancel(); return b }}
	if _, err := Take(ctx, c); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	if lines := said.take(); len(lines) != 0 {
		t.Errorf("a stop is no trouble, and it said %q", lines)
	}
	if got := snapshots(t, c.SnapshotDir); len(got) != 0 {
		t.Errorf("it left %v", got)
	}
}
