package leader

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"go.uber.org/goleak"

	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// leaseOf finds the lease of the election's present leader.
func leaseOf(t *testing.T, c *clientv3.Client, key string) clientv3.LeaseID {
	t.Helper()
	resp, err := c.Get(t.Context(), key)
	if err != nil || len(resp.Kvs) != 1 {
		t.Fatalf("the election's key: %v, %v", resp, err)
	}
	return clientv3.LeaseID(resp.Kvs[0].Lease)
}

func TestOneLeadsAtATimeAndTheNextTakesOverWhenItLeaves(t *testing.T) {
	c := etcdtest.Client(t)
	var leading, most, terms atomic.Int32
	ended := make(chan error)
	turn := make(chan context.CancelFunc)
	const candidates = 4
	for range candidates {
		ctx, cancel := context.WithCancel(t.Context())
		go func() {
			ended <- Run(ctx, c, Config{Name: "test", TTL: time.Minute}, func(ctx context.Context, _ kv.Fence) error {
				most.Store(max(most.Load(), leading.Add(1)))
				defer leading.Add(-1)
				terms.Add(1)
				turn <- cancel
				<-ctx.Done()
				return ctx.Err()
			})
		}()
	}
	for range candidates {
		// A minute's lease: without resigning, the test would not get through.
		cancel := <-turn
		cancel()
		if err := <-ended; !errors.Is(err, context.Canceled) {
			t.Errorf("Run: %v", err)
		}
	}
	if most.Load() != 1 || terms.Load() != candidates {
		t.Errorf("%d terms, at most %d leading at once", terms.Load(), most.Load())
	}
	resp, err := c.Get(t.Context(), kv.Prefix("elections"), clientv3.WithPrefix())
	if err != nil || len(resp.Kvs) != 0 {
		t.Errorf("left behind: %v, %v", resp.Kvs, err)
	}
}

func TestALostSessionCancelsTheWorkAndItsFenceStopsEveryLateWrite(t *testing.T) {
	c := etcdtest.Client(t)
	store := kv.NewStore(c)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var fences []kv.Fence
	var late error
	err := Run(ctx, c, Config{Name: "test", TTL: 2 * time.Second}, func(ctx context.Context, fence kv.Fence) error {
		fences = append(fences, fence)
		if len(fences) == 2 {
			_, err := store.Commit(ctx, kv.NewTxn().Fence(fence).PutBytes("/by", []byte("the second term")))
			return err // nil ends Run
		}
		// The lease runs out, as it does for a process that was paused.
		if _, err := c.Revoke(t.Context(), leaseOf(t, c, fence.Key)); err != nil {
			t.Error(err)
		}
		// The news of it has not come yet, or has: the fence knows either way.
		_, late = store.Commit(context.WithoutCancel(ctx), kv.NewTxn().Fence(fence).PutBytes("/by", []byte("the first term")))
		<-ctx.Done()
		return ctx.Err()
	})
	if err != nil {
		t.Fatal(err)
	}
	if !errors.Is(late, kv.ErrNotLeader) {
		t.Errorf("the late write: %v", late)
	}
	if len(fences) != 2 || fences[0] == fences[1] {
		t.Errorf("the fences are %v", fences)
	}
	if resp, err := c.Get(t.Context(), "/by"); err != nil || string(resp.Kvs[0].Value) != "the second term" {
		t.Errorf("written by %v, %v", resp, err)
	}
}

func TestWorkThatFailsOrPanicsIsGivenAnotherTerm(t *testing.T) {
	c := etcdtest.Client(t)
	n := 0
	err := Run(t.Context(), c, Config{Name: "test"}, func(context.Context, kv.Fence) error {
		switch n++; n {
		case 1:
			return errors.New("no")
		case 2:
			panic("a bug")
		}
		return nil
	})
	if err != nil || n != 3 {
		t.Errorf("%d terms, %v", n, err)
	}
}

func TestRunEndsWhileItWaitsForItsTurn(t *testing.T) {
	c := etcdtest.Client(t)
	ctx, cancel := context.WithCancel(t.Context())
	err := Run(ctx, c, Config{Name: "test"}, func(outer context.Context, _ kv.Fence) error {
		second, stop := context.WithCancel(outer)
		ended := make(chan error)
		go func() {
			ended <- Run(second, c, Config{Name: "test"}, func(context.Context, kv.Fence) error {
				t.Error("two lead at once")
				return nil
			})
		}()
		// Two candidates: the second is in its campaign.
		for range 1000 {
			if resp, err := c.Get(outer, kv.Prefix("elections")+"test/", clientv3.WithPrefix()); err == nil && len(resp.Kvs) == 2 {
				break
			}
		}
		stop()
		if err := <-ended; !errors.Is(err, context.Canceled) {
			t.Errorf("the second: %v", err)
		}
		cancel()
		return nil
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("the first: %v", err)
	}
}

func TestRunOutlivesAStoreThatIsClosed(t *testing.T) {
	server := etcdtest.Start(t)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	err := Run(ctx, server.Client(), Config{Name: "test"}, func(inner context.Context, _ kv.Fence) error {
		if err := server.Close(); err != nil {
			t.Error(err)
		}
		<-inner.Done() // the session ends with the store
		cancel()
		return inner.Err()
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

// wonFence wins an election for the length of the test.
func wonFence(t *testing.T, c *clientv3.Client) kv.Fence {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	won, ended := make(chan kv.Fence), make(chan struct{})
	go func() {
		defer close(ended)
		_ = Run(ctx, c, Config{Name: "ledger"}, func(ctx context.Context, f kv.Fence) error {
			won <- f
			<-ctx.Done()
			return ctx.Err()
		})
	}()
	t.Cleanup(func() { cancel(); <-ended })
	return <-won
}

func TestLaunchesAreRecordedOnceWithTheFenceAndTheOldOnesTrimmed(t *testing.T) {
	c := etcdtest.Client(t)
	l := &launches{kv.NewStore(c)}
	fence, ctx := wonFence(t, c), t.Context()
	at := time.Date(2030, 6, 1, 6, 0, 0, 0, time.UTC)
	now := at.Add(time.Second)

	if last, err := l.last(ctx, "daily"); !last.IsZero() || err != nil {
		t.Errorf("before any: %v, %v", last, err)
	}
	for range 2 { // the second after a crash
		if err := l.begin(ctx, "daily", at, now, fence); err != nil {
			t.Fatal(err)
		}
	}
	if last, err := l.last(ctx, "daily"); !last.IsZero() || err != nil {
		t.Errorf("begun and not finished: %v, %v", last, err)
	}
	if err := l.finish(ctx, "daily", at, now.Add(time.Minute), fence); err != nil {
		t.Fatal(err)
	}
	if last, err := l.last(ctx, "daily"); !last.Equal(at) || err != nil {
		t.Errorf("finished: %v, %v", last, err)
	}
	var got launch
	resp, err := c.Get(ctx, "/halfshaft/v1/launches/daily/2030-06-01T06:00:00Z")
	if err != nil || len(resp.Kvs) != 1 {
		t.Fatal(resp, err)
	}
	if err := json.Unmarshal(resp.Kvs[0].Value, &got); err != nil {
		t.Fatal(err)
	}
	if want := (launch{Begun: now, Tries: 2, Finished: now.Add(time.Minute)}); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
	stale := kv.Fence{Key: fence.Key, CreateRevision: fence.CreateRevision - 1}
	if err := l.begin(ctx, "daily", at.Add(day), now, stale); !errors.Is(err, kv.ErrNotLeader) {
		t.Errorf("a stale leader: %v", err)
	}
	for i := range keptLaunches + 20 {
		at := at.Add(time.Duration(i) * day)
		if err := errors.Join(l.begin(ctx, "daily", at, at, fence), l.finish(ctx, "daily", at, at, fence)); err != nil {
			t.Fatal(err)
		}
	}
	resp, err = c.Get(ctx, launchPrefix("daily"), clientv3.WithPrefix())
	if err != nil || len(resp.Kvs) != keptLaunches {
		t.Errorf("%d records are kept, want %d; %v", len(resp.Kvs), keptLaunches, err)
	}
	if first := string(resp.Kvs[0].Key); !strings.HasSuffix(first, "2030-06-21T06:00:00Z") {
		t.Errorf("the oldest record kept is %s", first)
	}
}

func TestOfTwoProcessesOneMakesEachPass(t *testing.T) {
	c := etcdtest.Client(t)
	ctx, cancel := context.WithCancel(t.Context())
	now := time.Date(2030, 6, 1, 7, 0, 0, 0, time.UTC)
	made := make(chan string, 10)
	jobs := func() []Job {
		var all []Job
		for _, name := range []string{"mail", "sweep"} {
			all = append(all, Job{Name: name, Spec: "0 6 * * *", Pass: func(ctx context.Context, at time.Time, f kv.Fence) error {
				_, err := kv.NewStore(c).Commit(ctx, kv.NewTxn().Fence(f).PutBytes("/pass/"+name, nil))
				made <- fmt.Sprint(name, " of ", at.Format("15:04"))
				return err
			}})
		}
		return all
	}
	ended := make(chan error, 2)
	for range 2 {
		go func() {
			ended <- RunJobs(ctx, c, kv.NewStore(c), jobs(), func() time.Time { return now }, nil)
		}()
	}
	got := []string{<-made, <-made}
	slices.Sort(got)
	if !slices.Equal(got, []string{"mail of 06:00", "sweep of 06:00"}) {
		t.Errorf("got %v", got)
	}
	cancel()
	for range 2 {
		if err := <-ended; !errors.Is(err, context.Canceled) {
			t.Errorf("RunJobs: %v", err)
		}
	}
	if len(made) != 0 {
		t.Errorf("a pass was made twice: %s", <-made)
	}
}
