package feed

import (
	"context"
	"errors"
	"io"
	"maps"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"pgregory.net/rapid"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func next[K comparable](t *testing.T, s *Subscription[K]) ([]K, int64) {
	t.Helper()
	keys, rev, err := s.Next(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return keys, rev
}

func TestNewsOfOneThingIsToldOnceHoweverOftenItChanged(t *testing.T) {
	h := NewHub[string]()
	h.Publish([]string{"before"}, 1)
	s := h.Subscribe()
	defer s.Close()
	for rev := int64(2); rev < 1000; rev++ {
		h.Publish([]string{"a", "b"}, rev)
	}
	keys, rev := next(t, s)
	if slices.Sort(keys); !slices.Equal(keys, []string{"a", "b"}) || rev != 999 {
		t.Errorf("got %v at %d, want a and b at 999", keys, rev)
	}
	h.Publish(nil, 1000)
	if keys, rev := next(t, s); len(keys) != 0 || rev != 1000 {
		t.Errorf("got %v at %d, want the revision 1000 alone", keys, rev)
	}
}

func TestNextWaitsForNewsAndEndsWithItsContextOrClose(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := NewHub[int]()
		h.Publish(nil, 3) // the state has a revision; that is no news
		s := h.Subscribe()
		told := make(chan int64, 1)
		go func() {
			_, rev, err := s.Next(t.Context())
			if err != nil {
				t.Error(err)
			}
			told <- rev
		}()
		synctest.Wait()
		select {
		case rev := <-told:
			t.Errorf("told of revision %d without news", rev)
		default:
		}
		h.Publish([]int{1}, 4)
		if rev := <-told; rev != 4 {
			t.Errorf("got %d", rev)
		}
		ctx, cancel := context.WithTimeout(t.Context(), time.Hour)
		defer cancel()
		if _, _, err := s.Next(ctx); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("got %v", err)
		}
		go s.Close()
		if _, _, err := s.Next(t.Context()); !errors.Is(err, ErrClosed) {
			t.Errorf("got %v", err)
		}
		h.Publish([]int{1}, 5) // nobody is left; it must not block
	})
}

// things is a state with a revision, as a projection keeps it.
type things struct {
	mu       sync.Mutex
	values   map[int]int
	revision int64
}

func TestAFollowerThatReadsWhatIsToldEndsWithTheServersState(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		server := things{values: map[int]int{}}
		hub := NewHub[int]()
		change := func(k, v int) {
			server.mu.Lock()
			server.values[k] = v
			server.revision++
			rev := server.revision
			server.mu.Unlock()
			hub.Publish([]int{k}, rev)
		}
		before := rapid.IntRange(0, 5).Draw(t, "before")
		for range before {
			change(rapid.IntRange(0, 9).Draw(t, "k"), rapid.Int().Draw(t, "v"))
		}
		s := hub.Subscribe()
		defer s.Close()
		server.mu.Lock()
		mirror := maps.Clone(server.values)
		server.mu.Unlock()
		n := rapid.IntRange(1, 50).Draw(t, "changes")
		var changes []int
		for range n {
			changes = append(changes, rapid.IntRange(0, 9).Draw(t, "k"))
		}
		go func() {
			for v, k := range changes {
				change(k, v)
			}
		}()
		for rev := int64(0); rev < int64(before+n); { // each change makes one revision
			keys, r, err := s.Next(context.Background())
			if err != nil {
				t.Fatal(err)
			}
			server.mu.Lock()
			for _, k := range keys {
				mirror[k] = server.values[k]
			}
			server.mu.Unlock()
			rev = r
		}
		if !maps.Equal(mirror, server.values) {
			t.Fatalf("got %v, want %v", mirror, server.values)
		}
	})
}

// answer is what the tests' streams carry.
type answer struct {
	revision      int64
	synced, reset bool
	err           error
}

// script is a stream that gives its answers and then an error, or waits for
// its end when that is nil.
type script struct {
	grpc.ClientStream
	ctx     context.Context
	answers []answer
	end     error
}

func (s *script) Recv() (*answer, error) {
	if len(s.answers) > 0 {
		a := s.answers[0]
		s.answers = s.answers[1:]
		return &a, nil
	}
	if s.end != nil {
		return nil, s.end
	}
	<-s.ctx.Done()
	return nil, s.ctx.Err()
}

// play follows scripts, one per stream, and notes when each was opened.
func play(t *testing.T, scripts ...script) (f *Follower, opened *[]time.Duration) {
	begin := time.Now()
	opened = new([]time.Duration)
	f = Follow(t.Context(), "test",
		func(ctx context.Context) (grpc.ServerStreamingClient[answer], error) {
			*opened = append(*opened, time.Since(begin))
			if len(scripts) == 0 {
				return nil, status.Error(codes.Unavailable, "not up yet")
			}
			s := scripts[0]
			scripts = scripts[1:]
			s.ctx = ctx
			return &s, nil
		},
		func(a *answer) (int64, bool, bool, error) { return a.revision, a.synced, a.reset, a.err },
		nil)
	t.Cleanup(f.Close)
	return f, opened
}

func TestRevisionsCountOnlyOnceTheSnapshotIsComplete(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f, _ := play(t, script{answers: []answer{
			{revision: 10, reset: true}, {revision: 10}, {revision: 10},
		}})
		synctest.Wait()
		if f.Revision() != 0 {
			t.Errorf("half a snapshot counts as revision %d", f.Revision())
		}
		gone, cancel := context.WithTimeout(t.Context(), time.Minute)
		defer cancel()
		if err := f.Synced(gone); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("Synced: %v", err)
		}
		f.Close()
	})
	synctest.Test(t, func(t *testing.T) {
		f, _ := play(t, script{answers: []answer{
			{revision: 10, reset: true}, {revision: 10, synced: true}, {revision: 12},
		}})
		if err := f.Synced(t.Context()); err != nil {
			t.Error(err)
		}
		if err := f.Wait(t.Context(), 12); err != nil {
			t.Error(err)
		}
		f.Close()
		if err := f.Wait(t.Context(), 13); !errors.Is(err, ErrFollowerClosed) {
			t.Errorf("after Close: %v", err)
		}
	})
}

func TestABrokenStreamIsOpenedAgainAndStartsWithASnapshot(t *testing.T) {
	for name, first := range map[string]script{
		"by the server's end":    {answers: []answer{{revision: 5, synced: true}}, end: io.EOF},
		"by the connection":      {answers: []answer{{revision: 5, synced: true}}, end: status.Error(codes.Unavailable, "reset")},
		"by an error of apply":   {answers: []answer{{revision: 5, synced: true}, {err: errors.New("cannot decode")}}},
		"before it was complete": {answers: []answer{{revision: 9, reset: true}}, end: io.EOF},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				f, _ := play(t, first, script{answers: []answer{
					{revision: 7, reset: true}, {revision: 8, synced: true},
				}})
				if err := f.Wait(t.Context(), 8); err != nil {
					t.Error(err)
				}
				synctest.Wait()
				if f.Revision() != 8 {
					t.Errorf("at %d, want 8", f.Revision())
				}
				f.Close()
			})
		})
	}
}

func TestAServerThatIsDownIsAskedEverMoreSeldom(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f, opened := play(t)
		time.Sleep(10 * time.Minute) // of the bubble's clock
		f.Close()
		at := *opened
		// From 20 ms doubling to 5 s, each shortened by up to half: about 120
		// to 240 openings in ten minutes, the early ones close together.
		if len(at) < 120 || len(at) > 260 {
			t.Errorf("%d openings in ten minutes", len(at))
		}
		if at[3] > time.Second {
			t.Errorf("the fourth opening came after %v", at[3])
		}
		for i := 20; i < len(at); i++ {
			if gap := at[i] - at[i-1]; gap < 2500*time.Millisecond || gap > 5*time.Second {
				t.Errorf("opening %d came %v after the one before", i, gap)
			}
		}
	})
}
