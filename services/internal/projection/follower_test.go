package projection

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"maps"
	"slices"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	clientv3 "go.etcd.io/etcd/client/v3"
	"go.uber.org/goleak"
	"pgregory.net/rapid"

	"halfshaft/services/internal/embedetcd"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const prefix = "/halfshaft/v1/build/"

// record is what the test's projection keeps of a key.
type record struct {
	Value               string
	ModRevision, Create int64
}

// state is a Handler that checks the contract of Apply as it goes.
type state struct {
	t interface{ Errorf(string, ...any) }

	mu       sync.Mutex
	keys     map[string]record
	revision int64
	events   int
	gone     []string // keys that came as Deleted
	fail     error
}

func newState(t interface{ Errorf(string, ...any) }) *state {
	return &state{t: t, keys: map[string]record{}}
}

func (s *state) Apply(events []Event, revision int64) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.fail != nil {
		return s.fail
	}
	if revision < s.revision {
		s.t.Errorf("Apply went from revision %d back to %d", s.revision, revision)
	}
	s.revision = revision
	s.events += len(events)
	for _, e := range events {
		if e.ModRevision > revision {
			s.t.Errorf("an event of revision %d came with revision %d", e.ModRevision, revision)
		}
		if e.Deleted {
			s.gone = append(s.gone, e.Key)
			delete(s.keys, e.Key)
			continue
		}
		s.keys[e.Key] = record{string(e.Value), e.ModRevision, e.CreateRevision}
	}
	return nil
}

func (s *state) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		for key, r := range s.snapshot() {
			if !yield(key, r.ModRevision) {
				return
			}
		}
	}
}

func (s *state) snapshot() map[string]record {
	s.mu.Lock()
	defer s.mu.Unlock()
	return maps.Clone(s.keys)
}

// listed is the truth: the keys as etcd lists them.
func listed(t interface{ Fatal(...any) }, ctx context.Context, c *clientv3.Client) (map[string]record, int64) {
	resp, err := c.Get(ctx, prefix, clientv3.WithPrefix())
	if err != nil {
		t.Fatal(err)
	}
	m := map[string]record{}
	for _, e := range resp.Kvs {
		m[string(e.Key)] = record{string(e.Value), e.ModRevision, e.CreateRevision}
	}
	return m, resp.Header.Revision
}

// cutter is a client whose watches can be cut and held off, as when a network
// is down for a while.
type cutter struct {
	clientv3.Watcher
	mu   sync.Mutex
	open chan struct{} // closed while watches are let through
	cuts []context.CancelFunc
}

func newCutter(c *clientv3.Client) (*cutter, *clientv3.Client) {
	w := &cutter{Watcher: c.Watcher, open: make(chan struct{})}
	close(w.open)
	through := clientv3.NewCtxClient(c.Ctx())
	through.KV, through.Watcher = c.KV, w
	return w, through
}

func (w *cutter) Watch(ctx context.Context, key string, opts ...clientv3.OpOption) clientv3.WatchChan {
	w.mu.Lock()
	open := w.open
	w.mu.Unlock()
	select {
	case <-open:
	case <-ctx.Done():
	}
	ctx, cancel := context.WithCancel(ctx)
	w.mu.Lock()
	w.cuts = append(w.cuts, cancel)
	w.mu.Unlock()
	return w.Watcher.Watch(ctx, key, opts...)
}

// cut ends every watch and holds off new ones until mend.
func (w *cutter) cut() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.open = make(chan struct{})
	for _, c := range w.cuts {
		c()
	}
	w.cuts = nil
}

func (w *cutter) mend() {
	w.mu.Lock()
	defer w.mu.Unlock()
	close(w.open)
}

func put(t testing.TB, c *clientv3.Client, key, value string) int64 {
	t.Helper()
	r, err := c.Put(t.Context(), key, value)
	if err != nil {
		t.Fatal(err)
	}
	return r.Header.Revision
}

func follow(t testing.TB, c *clientv3.Client, h Handler) *Follower {
	t.Helper()
	f, err := Start(t.Context(), c, prefix, h, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(f.Close)
	return f
}

func TestStartReturnsWithTheWholeStateAndThenFollows(t *testing.T) {
	c := etcdtest.Client(t)
	for i := range 2*batch + 10 { // several calls of Apply
		put(t, c, fmt.Sprint(prefix, i), "old")
	}
	s := newState(t)
	f := follow(t, c, s)
	want, rev := listed(t, t.Context(), c)
	if diff := cmp.Diff(want, s.snapshot()); diff != "" {
		t.Error(diff)
	}
	if f.Revision() != rev {
		t.Errorf("at revision %d, want %d", f.Revision(), rev)
	}
	rev = put(t, c, prefix+"0", "new")
	if err := f.Wait(t.Context(), rev); err != nil {
		t.Fatal(err)
	}
	if got := s.snapshot()[prefix+"0"].Value; got != "new" {
		t.Errorf("after Wait: got %q", got)
	}
}

func TestWaitEndsForARevisionThatTouchedNothingOfThePrefix(t *testing.T) {
	c := etcdtest.Client(t)
	f := follow(t, c, newState(t))
	for i := range 5 {
		rev := put(t, c, "/elsewhere", fmt.Sprint(i))
		if err := f.Wait(t.Context(), rev); err != nil {
			t.Fatal(err)
		}
	}
}

func TestOneTransactionComesInOneCall(t *testing.T) {
	c := etcdtest.Client(t)
	calls := make(chan []Event, 10)
	f := follow(t, c, handlerFunc(func(e []Event, _ int64) error { calls <- e; return nil }))
	<-calls // the empty first load
	txn := kv.NewTxn()
	for i := range kv.MaxOps {
		txn.PutBytes(fmt.Sprint(prefix, i), nil)
	}
	r, err := kv.NewStore(c).Commit(t.Context(), txn)
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Wait(t.Context(), r.Revision); err != nil {
		t.Fatal(err)
	}
	if got := len(<-calls); got != kv.MaxOps {
		t.Errorf("the first call has %d events, want %d", got, kv.MaxOps)
	}
}

type handlerFunc func([]Event, int64) error

func (h handlerFunc) Apply(e []Event, rev int64) error { return h(e, rev) }
func (h handlerFunc) Known() iter.Seq2[string, int64]  { return func(func(string, int64) bool) {} }

func TestAWatchBehindACompactionIsReplacedByWhatDiffers(t *testing.T) {
	c := etcdtest.Client(t)
	for i := range 10 {
		put(t, c, fmt.Sprint(prefix, i), "old")
	}
	network, through := newCutter(c)
	s := newState(t)
	f := follow(t, through, s)

	network.cut()
	put(t, c, prefix+"1", "new")
	put(t, c, prefix+"fresh", "new")
	for _, key := range []string{"2", "3"} {
		if _, err := c.Delete(t.Context(), prefix+key); err != nil {
			t.Fatal(err)
		}
	}
	put(t, c, prefix+"3", "deleted and made again")
	rev := put(t, c, prefix+"4", "new")
	if _, err := c.Compact(t.Context(), rev); err != nil {
		t.Fatal(err)
	}
	s.mu.Lock()
	before := s.events
	s.mu.Unlock()
	network.mend()

	if err := f.Wait(t.Context(), rev); err != nil {
		t.Fatal(err)
	}
	want, _ := listed(t, t.Context(), c)
	if diff := cmp.Diff(want, s.snapshot()); diff != "" {
		t.Error(diff)
	}
	// 1, fresh, 3 and 4 as they are; 2 as deleted. Unchanged keys do not come.
	if got := s.events - before; got != 5 {
		t.Errorf("the relist brought %d events, want 5", got)
	}
	if diff := cmp.Diff([]string{prefix + "2"}, s.gone); diff != "" {
		t.Error(diff)
	}
}

func TestTheProjectionEqualsAListAfterAnyOperationsCutsAndCompactions(t *testing.T) {
	c := etcdtest.Client(t)
	rapid.Check(t, func(t *rapid.T) {
		ctx := context.Background()
		network, through := newCutter(c)
		s := newState(t)
		f, err := Start(ctx, through, prefix, s, nil)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		cut := false
		key := rapid.Custom(func(t *rapid.T) string {
			return rapid.SampledFrom([]string{prefix, "/halfshaft/v1/parts/"}).Draw(t, "service") +
				fmt.Sprint(rapid.IntRange(0, 12).Draw(t, "key"))
		})
		t.Repeat(map[string]func(*rapid.T){
			"put": func(t *rapid.T) {
				if _, err := c.Put(ctx, key.Draw(t, "k"), rapid.StringN(0, 5, -1).Draw(t, "v")); err != nil {
					t.Fatal(err)
				}
			},
			"delete": func(t *rapid.T) {
				if _, err := c.Delete(ctx, key.Draw(t, "k")); err != nil {
					t.Fatal(err)
				}
			},
			"delete all": func(t *rapid.T) {
				if _, err := c.Delete(ctx, prefix, clientv3.WithPrefix()); err != nil {
					t.Fatal(err)
				}
			},
			"compact": func(t *rapid.T) {
				_, rev := listed(t, ctx, c)
				// Compacting twice at one revision is an error that changes nothing.
				_, _ = c.Compact(ctx, rev)
			},
			"cut": func(t *rapid.T) {
				if cut {
					t.Skip("cut already")
				}
				cut = true
				network.cut()
			},
			"mend": func(t *rapid.T) {
				if !cut {
					t.Skip("whole")
				}
				cut = false
				network.mend()
			},
		})
		if cut {
			network.mend()
		}
		want, rev := listed(t, ctx, c)
		if err := f.Wait(ctx, rev); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, s.snapshot()); diff != "" {
			t.Fatal(diff)
		}
	})
}

func TestAHandlerThatFailsEndsTheFollower(t *testing.T) {
	c := etcdtest.Client(t)
	s := newState(t)
	f := follow(t, c, s)
	broken := errors.New("cannot decode")
	s.mu.Lock()
	s.fail = broken
	s.mu.Unlock()
	rev := put(t, c, prefix+"1", "x")
	if err := f.Wait(t.Context(), rev); !errors.Is(err, broken) {
		t.Errorf("Wait: got %v", err)
	}
	if !errors.Is(f.Err(), broken) {
		t.Errorf("Err: got %v", f.Err())
	}
	if _, err := Start(t.Context(), c, prefix, s, nil); !errors.Is(err, broken) {
		t.Errorf("Start: got %v", err)
	}
}

func TestClosingTheFollowerOrTheStoreEndsWaits(t *testing.T) {
	for name, end := range map[string]func(*Follower, *embedetcd.Server) error{
		"the follower": func(f *Follower, _ *embedetcd.Server) error { f.Close(); return nil },
		"the store":    func(_ *Follower, s *embedetcd.Server) error { return s.Close() },
	} {
		t.Run(name, func(t *testing.T) {
			server := etcdtest.Start(t)
			f := follow(t, server.Client(), newState(t))
			waited := make(chan error)
			go func() { waited <- f.Wait(t.Context(), 1<<40) }()
			if err := end(f, server); err != nil {
				t.Fatal(err)
			}
			if err := <-waited; !errors.Is(err, ErrClosed) {
				t.Errorf("got %v, want ErrClosed", err)
			}
		})
	}
}

func TestAGroupWaitsForEveryFollowerOfTheService(t *testing.T) {
	var g Group
	if err := g.Wait(t.Context(), "build", 5); err != nil {
		t.Errorf("nobody follows: %v", err)
	}
	var asked []string
	slow := errors.New("slow")
	g.Add("build", waiterFunc(func(rev int64) error { asked = append(asked, fmt.Sprint("a", rev)); return nil }))
	g.Add("build", waiterFunc(func(rev int64) error { asked = append(asked, fmt.Sprint("b", rev)); return nil }))
	g.Add("parts", waiterFunc(func(int64) error { return slow }))
	if err := g.Wait(t.Context(), "build", 5); err != nil {
		t.Error(err)
	}
	if slices.Sort(asked); !slices.Equal(asked, []string{"a5", "b5"}) {
		t.Errorf("asked %v", asked)
	}
	if err := g.Wait(t.Context(), "parts", 5); !errors.Is(err, slow) {
		t.Errorf("got %v", err)
	}
}

type waiterFunc func(int64) error

func (w waiterFunc) Wait(_ context.Context, rev int64) error { return w(rev) }
