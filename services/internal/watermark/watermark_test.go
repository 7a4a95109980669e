package watermark

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func TestThoseWhoWaitAreWokenAtTheirRevisionAndNotBefore(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var m Mark
		var woken []int64
		for _, rev := range []int64{3, 5, 9} {
			go func() {
				if err := m.Wait(t.Context(), rev); err != nil {
					t.Error(err)
				}
				woken = append(woken, rev) // the bubble runs one at a time after Wait
			}()
		}
		for _, c := range []struct {
			to   int64
			want int
		}{{2, 0}, {4, 1}, {1, 1}, {5, 2}, {20, 3}} {
			m.Advance(c.to)
			synctest.Wait()
			if len(woken) != c.want {
				t.Errorf("at %d: %v are woken, want %d of them", c.to, woken, c.want)
			}
		}
		if m.Revision() != 20 {
			t.Errorf("the mark is at %d", m.Revision())
		}
	})
}

func TestAFailureEndsAllWaitsBeyondTheMarkNowAndLater(t *testing.T) {
	var m Mark
	m.Advance(7)
	broken := errors.New("broken")
	ended := make(chan error)
	go func() { ended <- m.Wait(t.Context(), 8) }()
	m.Fail(broken)
	m.Fail(errors.New("the second reason"))
	if err := <-ended; !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
	if err := m.Wait(t.Context(), 8); !errors.Is(err, broken) {
		t.Errorf("later: got %v", err)
	}
	if err := m.Wait(t.Context(), 7); err != nil {
		t.Errorf("what was reached is reached: %v", err)
	}
}

func TestAWaitThatIsGivenUpLeavesNothingBehind(t *testing.T) {
	var m Mark
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := m.Wait(ctx, 1); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	if len(m.waiters) != 0 {
		t.Errorf("%d waiters are left", len(m.waiters))
	}
}

func TestNudgesComeEverMoreSeldomUntilTheMarkIsReached(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var m Mark
		begin := time.Now()
		var at []time.Duration
		err := m.WaitNudging(t.Context(), 1, func() {
			at = append(at, time.Since(begin))
			if len(at) == 4 {
				m.Advance(1)
			}
		})
		if err != nil {
			t.Fatal(err)
		}
		// Pauses of 5, 10, 20 and 40 ms: the constants doubled.
		for i, want := range []time.Duration{5, 15, 35, 75} {
			if at[i] != want*time.Millisecond {
				t.Errorf("nudge %d after %v, want %v ms", i, at[i], want)
			}
		}
	})
}
