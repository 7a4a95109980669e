package upkeep

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	clientv3 "go.etcd.io/etcd/client/v3"
	"go.uber.org/goleak"

	"halfshaft/services/internal/embedetcd"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// day is when the tests happen; any day would do.
var day = time.Date(2030, 6, 1, 3, 10, 0, 0, time.UTC)

// journal collects what is logged, one line each, without the time.
type journal struct {
	mu    sync.Mutex
	lines []string
	alarm func() // called at each error; nil: nothing
}

func (j *journal) Write(b []byte) (int, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.alarm != nil && bytes.Contains(b, []byte("level=ERROR")) {
		j.alarm()
	}
	j.lines = append(j.lines, strings.TrimSpace(string(b)))
	return len(b), nil
}

// take gives the lines since the last call.
func (j *journal) take() []string {
	j.mu.Lock()
	defer j.mu.Unlock()
	lines := j.lines
	j.lines = nil
	return lines
}

func (j *journal) logger() *slog.Logger {
	return slog.New(slog.NewTextHandler(j, &slog.HandlerOptions{
		ReplaceAttr: func(_ []string, a slog.Attr) slog.Attr {
			if a.Key == slog.TimeKey {
				return slog.Attr{}
			}
			return a
		},
	}))
}

// lookAfter makes the Config for an etcd, at a fixed time.
func lookAfter(t testing.TB, s *embedetcd.Server) Config {
	t.Helper()
	return Config{
		Etcd: s, Client: s.Client(), Store: kv.NewStore(s.Client()), Services: []string{"build", "owner"},
		SnapshotDir: t.TempDir(), Clock: func() time.Time { return day },
	}
}

func put(t testing.TB, c *clientv3.Client, key, value string) {
	t.Helper()
	if _, err := c.Put(t.Context(), key, value); err != nil {
		t.Fatal(err)
	}
}

func names(jobs []leader.Job) []string {
	var all []string
	for _, j := range jobs {
		all = append(all, j.Name+" "+j.Spec)
	}
	return all
}

func TestTheJobsAreThoseThatTheStoreAllows(t *testing.T) {
	s := etcdtest.Start(t)
	embedded := lookAfter(t, s)
	without, cluster := embedded, embedded
	without.SnapshotDir = ""
	cluster.Etcd = nil
	for name, c := range map[string]struct {
		config Config
		want   []string
	}{
		"an embedded etcd":           {embedded, []string{"trim-requests 23 * * * *", "defragment-store 40 2 * * *", "nightly-snapshot 10 3 * * *"}},
		"without a place for copies": {without, []string{"trim-requests 23 * * * *", "defragment-store 40 2 * * *"}},
		"a cluster":                  {cluster, []string{"trim-requests 23 * * * *"}},
	} {
		t.Run(name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, names(Jobs(c.config))); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestRequestIDsAreForgottenAfterThirtyDays(t *testing.T) {
	s := etcdtest.Start(t)
	c := lookAfter(t, s)
	for _, service := range c.Services {
		txn := kv.NewTxn().Once(service, uuid.NewString(), nil, nil).PutBytes("/effect/"+service, []byte("x"))
		if _, err := c.Store.Commit(t.Context(), txn); err != nil {
			t.Fatal(err)
		}
	}
	left := func() int64 {
		resp, err := c.Client.Get(t.Context(), kv.Prefix("requests"), clientv3.WithPrefix(), clientv3.WithCountOnly())
		if err != nil {
			t.Fatal(err)
		}
		return resp.Count
	}
	trim := Jobs(c)[0].Pass
	// A record bears the machine's time of its commit.
	for _, step := range []struct {
		after time.Duration
		want  int64
	}{{29 * 24 * time.Hour, 2}, {31 * 24 * time.Hour, 0}} {
		if err := trim(t.Context(), time.Now().Add(step.after), kv.Fence{}); err != nil {
			t.Fatal(err)
		}
		if got := left(); got != step.want {
			t.Errorf("after %v: %d request ids are left, want %d", step.after, got, step.want)
		}
	}
}

func TestRunTakesTheSnapshotThatWasMissedAndEndsWithItsContext(t *testing.T) {
	s := etcdtest.Start(t)
	put(t, s.Client(), "/a", "b")
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	said := &journal{alarm: cancel} // a pass that fails would be waited for in vain
	c := lookAfter(t, s)
	c.Logger = said.logger()
	done := make(chan error, 1)
	go func() { done <- Run(ctx, c) }()
	// The launch record of 03:10 is finished when its snapshot counts.
	key := kv.Prefix("launches") + "nightly-snapshot/2030-06-01T03:10:00Z"
	for w := range s.Client().Watch(ctx, key, clientv3.WithRev(1)) {
		if slices.ContainsFunc(w.Events, func(e *clientv3.Event) bool { return strings.Contains(string(e.Kv.Value), "finished") }) {
			break
		}
	}
	cancel()
	if err := <-done; !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if diff := cmp.Diff([]string{"2030-06-01.db"}, snapshots(t, c.SnapshotDir)); diff != "" {
		t.Errorf("%s\nit said %q", diff, said.take())
	}
}

func TestTheNightGivesFreePagesBackWhereTheFileIsLarge(t *testing.T) {
	const quota = 48 << 20
	s := etcdtest.StartIn(t, embedetcd.Config{Dir: t.TempDir(), QuotaBytes: quota})
	c := lookAfter(t, s)
	pass := Jobs(c)[1].Pass
	run := func() embedetcd.Usage {
		t.Helper()
		if err := pass(t.Context(), day, kv.Fence{}); err != nil {
			t.Fatal(err)
		}
		return s.Usage()
	}
	fill(t, c.Client, 10, func() bool { return s.Usage().File >= quota/4 })
	compactAll(t, c.Client)
	if before, after := s.Usage(), run(); after.File < before.File {
		t.Errorf("a small file was rewritten: %d bytes, then %d", before.File, after.File)
	}
	fill(t, c.Client, 10, func() bool { return s.Usage().Full(nearlyFull) })
	compactAll(t, c.Client)
	if after := run(); after.Full(nearlyFull) {
		t.Errorf("%d bytes of %d are still taken", after.File, after.Quota)
	}
}

// fill writes 8 KiB at a time over so many keys, until enough says so or the
// store refuses. etcd counts what it has written through to its file, which it
// does ten times a second, so that a few megabytes more may go in.
func fill(t testing.TB, c *clientv3.Client, keys int, enough func() bool) {
	t.Helper()
	value := strings.Repeat("x", 8<<10)
	for i := 0; i < 20000 && !enough(); i++ {
		if _, err := c.Put(t.Context(), fmt.Sprintf("/fill/%d", i%keys), value); err != nil {
			return
		}
	}
}

func compactAll(t testing.TB, c *clientv3.Client) {
	t.Helper()
	resp, err := c.Get(t.Context(), "/fill")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.Compact(t.Context(), resp.Header.Revision, clientv3.WithCompactPhysical()); err != nil {
		t.Fatal(err)
	}
	put(t, c, "/after", "the compaction") // bbolt frees the pages for good with the next write
}
