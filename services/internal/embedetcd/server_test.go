package embedetcd

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	clientv3 "go.etcd.io/etcd/client/v3"
	"go.uber.org/goleak"

	"halfshaft/services/fault"
)

// childDir, set in the environment, makes the test binary a process that
// writes to an etcd in that directory until it is killed.
const childDir = "HALFSHAFT_EMBEDETCD_CHILD"

func TestMain(m *testing.M) {
	if dir := os.Getenv(childDir); dir != "" {
		writeUntilKilled(dir)
	}
	goleak.VerifyTestMain(m)
}

func writeUntilKilled(dir string) {
	s, err := Start(context.Background(), Config{Dir: dir})
	if err != nil {
		fmt.Println("error", err)
		os.Exit(1)
	}
	run := strconv.Itoa(os.Getpid())
	for i := 0; ; i++ {
		key := fmt.Sprintf("/run/%s/%06d", run, i)
		if _, err := s.Client().Put(context.Background(), key, strings.Repeat("x", 100)); err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		}
		fmt.Println(key) // acknowledged: from here on it must never be lost
	}
}

func start(t testing.TB, c Config) *Server {
	t.Helper()
	s, err := Start(context.Background(), c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func TestASecondStartOnOneDirectoryIsRefusedAndNamesTheHolder(t *testing.T) {
	dir := t.TempDir()
	first := start(t, Config{Dir: dir})

	_, err := Start(t.Context(), Config{Dir: dir})
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.FailedPrecondition || f.Reason != "DATA_DIR_IN_USE" {
		t.Fatalf("got %v, want FailedPrecondition DATA_DIR_IN_USE", err)
	}
	want := map[string]string{"dir": dir, "pid": strconv.Itoa(os.Getpid())}
	if diff := cmp.Diff(want, f.Meta); diff != "" {
		t.Error(diff)
	}
	for _, part := range []string{dir, strconv.Itoa(os.Getpid())} {
		if !strings.Contains(f.Error(), part) {
			t.Errorf("%q does not name %s", f, part)
		}
	}
	// The refused start must not have let go of the first one's lock, nor of
	// its socket.
	if _, err := Start(t.Context(), Config{Dir: dir}); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("the third start: got %v, want a refusal", err)
	}
	if _, err := os.Stat(first.socket); err != nil {
		t.Error(err)
	}
}

func TestADirectoryCanBeUsedAgainAfterClose(t *testing.T) {
	dir := t.TempDir()
	for i := range 3 {
		s, err := Start(t.Context(), Config{Dir: dir})
		if err != nil {
			t.Fatal(err)
		}
		resp, err := s.Client().Get(t.Context(), "/a", clientv3.WithPrefix())
		if err != nil || len(resp.Kvs) != i {
			t.Fatalf("start %d: %d keys, %v; want %d", i, len(resp.Kvs), err, i)
		}
		if _, err := s.Client().Put(t.Context(), fmt.Sprintf("/a/%d", i), "b"); err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatalf("the second Close: %v", err)
		}
	}
}

func TestNoAcknowledgedWriteIsLostWhenTheProcessIsKilled(t *testing.T) {
	dir := t.TempDir()
	var acknowledged []string
	const kills = 5
	for kill := range kills {
		acknowledged = append(acknowledged, runAndKill(t, dir, 20+37*kill)...)
	}
	// The killed process left its socket, its lock file and its log.
	s := start(t, Config{Dir: dir})
	resp, err := s.Client().Get(t.Context(), "/run/", clientv3.WithPrefix(), clientv3.WithKeysOnly())
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	for _, e := range resp.Kvs {
		there[string(e.Key)] = true
	}
	for _, key := range acknowledged {
		if !there[key] {
			t.Errorf("%s was acknowledged and is lost", key)
		}
	}
	t.Logf("%d kills, %d writes acknowledged, %d there", kills, len(acknowledged), len(there))
}

// runAndKill lets a child write until it has acknowledged so many keys, kills
// it with SIGKILL, and gives all it acknowledged.
func runAndKill(t *testing.T, dir string, writes int) []string {
	t.Helper()
	c := exec.CommandContext(t.Context(), os.Args[0])
	c.Env = append(os.Environ(), childDir+"="+dir)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	var keys []string
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if !strings.HasPrefix(lines.Text(), "/run/") {
			t.Fatal(lines.Text())
		}
		keys = append(keys, lines.Text())
		if len(keys) == writes {
			if err := c.Process.Kill(); err != nil {
				t.Fatal(err)
			}
		}
	}
	c.Wait() // its error says that it was killed
	if len(keys) < writes {
		t.Fatalf("the child ended after %d writes", len(keys))
	}
	// A line cut short by the kill was not acknowledged to anyone.
	if last := keys[len(keys)-1]; len(last) != len(keys[0]) {
		keys = keys[:len(keys)-1]
	}
	return keys
}

func TestOtherProcessesReachTheServerThroughItsSocketOnly(t *testing.T) {
	s := start(t, Config{Dir: t.TempDir()})
	c, err := clientv3.New(clientv3.Config{Endpoints: []string{s.Endpoint()}})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := c.Put(t.Context(), "/a", "through the socket"); err != nil {
		t.Fatal(err)
	}
	resp, err := s.Client().Get(t.Context(), "/a")
	if err != nil || len(resp.Kvs) != 1 || string(resp.Kvs[0].Value) != "through the socket" {
		t.Errorf("got %v, %v", resp, err)
	}
	for path, want := range map[string]fs.FileMode{filepath.Dir(s.socket): 0o700, filepath.Join(s.dir, "etcd"): 0o700} {
		if info, err := os.Stat(path); err != nil || info.Mode().Perm() != want {
			t.Errorf("%s: got %v, %v; want %v", path, info.Mode(), err, want)
		}
	}
	if ports := listeningPorts(t); len(ports) > 0 {
		t.Errorf("this process listens on TCP: %v", ports)
	}
}

// listeningPorts gives the TCP listeners of this process, as the kernel lists
// them (proc(5): state 0A is LISTEN, the tenth field the socket's inode).
func listeningPorts(t *testing.T) []string {
	t.Helper()
	mine := map[string]bool{}
	fds, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Skip("no /proc to ask")
	}
	for _, fd := range fds {
		if target, err := os.Readlink("/proc/self/fd/" + fd.Name()); err == nil {
			mine[target] = true
		}
	}
	var found []string
	for _, table := range []string{"/proc/self/net/tcp", "/proc/self/net/tcp6"} {
		b, err := os.ReadFile(table)
		if err != nil {
			continue
		}
		for line := range strings.Lines(string(b)) {
			f := strings.Fields(line)
			if len(f) > 9 && f[3] == "0A" && mine["socket:["+f[9]+"]"] {
				found = append(found, f[1])
			}
		}
	}
	return found
}

func TestAPathTooLongForASocketCostsOnlyTheSocket(t *testing.T) {
	s := start(t, Config{Dir: filepath.Join(t.TempDir(), strings.Repeat("deep/", 20))})
	if s.Endpoint() != "" {
		t.Errorf("got the endpoint %s", s.Endpoint())
	}
	if _, err := s.Client().Put(t.Context(), "/a", "b"); err != nil {
		t.Error(err)
	}
}

func TestCloseDoesNotWaitForAClientThatWatches(t *testing.T) {
	// The limit of the whole test binary guards this: etcd's own way of
	// closing would wait for the watch, see BenchmarkStartAndClose for times.
	s := start(t, Config{Dir: t.TempDir()})
	c, err := clientv3.New(clientv3.Config{Endpoints: []string{s.Endpoint()}})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	outside := c.Watch(t.Context(), "/a", clientv3.WithCreatedNotify())
	<-outside
	inside := s.Client().Watch(t.Context(), "/a", clientv3.WithCreatedNotify())
	<-inside
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for range inside { // ends, since Close closed its client
	}
	<-s.Done()
}

func TestTheLogIsQuietWhenNothingIsWrong(t *testing.T) {
	var log bytes.Buffer
	s := start(t, Config{Dir: t.TempDir(), Logger: slog.New(slog.NewTextHandler(&log, nil))})
	if _, err := s.Client().Put(t.Context(), "/a", "b"); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(log.String()) {
		t.Error(line)
	}
}

func TestAFullStoreRaisesAnAlarmAndIsRecoveredByDefragmenting(t *testing.T) {
	const quota = 4 << 20
	s := start(t, Config{Dir: t.TempDir(), QuotaBytes: quota})
	ctx := t.Context()
	if got := s.Alarms(); len(got) != 0 {
		t.Fatalf("alarms at the start: %v", got)
	}
	value := strings.Repeat("x", 200<<10)
	var err error
	// etcd counts what it has written through to its file, which it does ten
	// times a second: some writes too many are let in first.
	for i := 0; err == nil && i < 5000; i++ {
		_, err = s.Client().Put(ctx, fmt.Sprintf("/fill/%d", i%3), value)
	}
	if err == nil {
		t.Fatal("a gigabyte fitted into a quota of 4 MiB")
	}
	if diff := cmp.Diff([]string{"NOSPACE"}, s.Alarms()); diff != "" {
		t.Error(diff)
	}
	if !s.Usage().Full(0.8) {
		t.Errorf("usage %+v is not over 80 %%", s.Usage())
	}
	// Recovery in the order of etcd's operations guide (maintenance, space
	// quota): compact, defragment, disarm.
	resp, err := s.Client().Get(ctx, "/fill/", clientv3.WithPrefix(), clientv3.WithKeysOnly())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Client().Compact(ctx, resp.Header.Revision, clientv3.WithCompactPhysical()); err != nil {
		t.Fatal(err)
	}
	before := s.Usage()
	if err := s.Defragment(); err != nil {
		t.Fatal(err)
	}
	if after := s.Usage(); after.File >= before.File || after.Full(0.8) {
		t.Errorf("defragmenting took the file from %d to %d bytes", before.File, after.File)
	}
	if err := s.Disarm(ctx); err != nil {
		t.Fatal(err)
	}
	if got := s.Alarms(); len(got) != 0 {
		t.Errorf("alarms after the recovery: %v", got)
	}
	if _, err := s.Client().Put(ctx, "/fill/again", "x"); err != nil {
		t.Error(err)
	}
}

func TestAnEmptyDirectoryNameIsRefused(t *testing.T) {
	if _, err := Start(t.Context(), Config{}); !fault.Is(err, fault.Invalid) {
		t.Errorf("got %v", err)
	}
}

// BenchmarkStartAndClose prints how long a process waits for its store, with
// a client on the socket that holds a watch open to the end.
func BenchmarkStartAndClose(b *testing.B) {
	dir := b.TempDir()
	var starting, closing time.Duration
	for b.Loop() {
		begin := time.Now()
		s, err := Start(b.Context(), Config{Dir: dir})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := s.Client().Put(b.Context(), "/a", "b"); err != nil {
			b.Fatal(err)
		}
		starting += time.Since(begin)
		c, err := clientv3.New(clientv3.Config{Endpoints: []string{s.Endpoint()}})
		if err != nil {
			b.Fatal(err)
		}
		<-c.Watch(b.Context(), "/a", clientv3.WithCreatedNotify())
		begin = time.Now()
		if err := s.Close(); err != nil {
			b.Fatal(err)
		}
		closing += time.Since(begin)
		c.Close()
	}
	b.ReportMetric(float64(starting.Milliseconds())/float64(b.N), "start-ms")
	b.ReportMetric(float64(closing.Milliseconds())/float64(b.N), "close-ms")
}
