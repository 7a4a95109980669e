package leader

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
)

// memory is a ledger without etcd, for the loop in a bubble.
type memory struct {
	begun    map[string]int
	finished map[string]time.Time
	err      error
}

func newMemory() *memory { return &memory{begun: map[string]int{}, finished: map[string]time.Time{}} }

func (m *memory) last(context.Context, string) (time.Time, error) {
	var last time.Time
	for _, at := range m.finished {
		if at.After(last) {
			last = at
		}
	}
	return last, m.err
}

func (m *memory) begin(_ context.Context, _ string, at, _ time.Time, _ kv.Fence) error {
	m.begun[at.Format(time.RFC3339)]++
	return m.err
}

func (m *memory) finish(_ context.Context, _ string, at, _ time.Time, _ kv.Fence) error {
	m.finished[at.Format(time.RFC3339)] = at
	return m.err
}

// passes collects the scheduled times of the passes made.
type passes struct{ at []string }

func (p *passes) pass(_ context.Context, scheduled time.Time, _ kv.Fence) error {
	p.at = append(p.at, scheduled.Format("01-02T15:04"))
	return nil
}

// bubble runs one job's loop with its ticks, for so long, in the bubble's
// time, which begins at 2000-01-01T00:00Z (testing/synctest).
func bubble(t *testing.T, job Job, m *memory, clock func() time.Time, long time.Duration) error {
	t.Helper()
	loops, err := newLoops([]Job{job}, m, clock, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	stop := startTicks(loops, slog.New(slog.DiscardHandler))
	defer stop()
	ctx, cancel := context.WithTimeout(t.Context(), long)
	defer cancel()
	return loops[0].run(ctx, kv.Fence{Key: "/e", CreateRevision: 1})
}

func TestAYearOfTicksMakesOnePassADay(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, p := newMemory(), &passes{}
		err := bubble(t, Job{Name: "daily", Spec: "0 6 * * *", Pass: p.pass}, m, time.Now, 366*24*time.Hour)
		if !errors.Is(err, context.DeadlineExceeded) {
			t.Error(err)
		}
		// The sweep at the start makes up for 31 December; then one for each
		// of the 366 days of 2000.
		if len(p.at) != 367 || p.at[0] != "12-31T06:00" || p.at[1] != "01-01T06:00" || p.at[366] != "12-31T06:00" {
			t.Errorf("%d passes, from %v to %v", len(p.at), p.at[:2], p.at[len(p.at)-1])
		}
		for at, n := range m.begun {
			if n != 1 {
				t.Errorf("%s was launched %d times", at, n)
			}
		}
	})
}

func TestTheSweepMakesOnePassForAllThatWasMissed(t *testing.T) {
	for name, c := range map[string]struct {
		finished string // the launch that the ledger has, "" for none
		want     []string
	}{
		"a first start":                  {"", []string{"12-31T06:00"}},
		"a start after three days":       {"1999-12-28T06:00:00Z", []string{"12-31T06:00"}},
		"a start with nothing missed":    {"1999-12-31T06:00:00Z", nil},
		"a clock that was set back once": {"2000-01-03T06:00:00Z", nil},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				m, p := newMemory(), &passes{}
				if c.finished != "" {
					at, err := time.Parse(time.RFC3339, c.finished)
					if err != nil {
						t.Fatal(err)
					}
					m.finished[c.finished] = at
				}
				_ = bubble(t, Job{Name: "daily", Spec: "0 6 * * *", Pass: p.pass}, m, time.Now, 5*time.Hour)
				if !slices.Equal(p.at, c.want) {
					t.Errorf("got %v, want %v", p.at, c.want)
				}
			})
		})
	}
}

func TestAPatientJobWaitsForItsNextTimeAfterTheFirstStartOnly(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, p := newMemory(), &passes{}
		daily := Job{Name: "daily", Spec: "0 6 * * *", Pass: p.pass, Patient: true}
		_ = bubble(t, daily, m, time.Now, 5*time.Hour)
		if len(p.at) > 0 {
			t.Errorf("passes at once: %v", p.at)
		}
		time.Sleep(2 * time.Hour) // its time goes by while nobody runs
		_ = bubble(t, daily, m, time.Now, time.Hour)
		if want := []string{"01-01T06:00"}; !slices.Equal(p.at, want) {
			t.Errorf("after a stop: %v, want %v", p.at, want)
		}
	})
}

func TestALaunchCutShortByACrashIsMadeByTheNextLeader(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, p := newMemory(), &passes{}
		m.begun["1999-12-31T06:00:00Z"] = 1 // and never finished
		_ = bubble(t, Job{Name: "daily", Spec: "0 6 * * *", Pass: p.pass}, m, time.Now, time.Hour)
		if !slices.Equal(p.at, []string{"12-31T06:00"}) || m.begun["1999-12-31T06:00:00Z"] != 2 {
			t.Errorf("got %v, launched %v", p.at, m.begun)
		}
	})
}

func TestAFailingPassIsTriedAgainEverMoreSeldomAndHoldsUpNoLaterOne(t *testing.T) {
	for name, fail := range map[string]func() error{
		"with an error": func() error { return errors.New("no mail server") },
		"with a panic":  func() error { panic("a bug") },
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				m := newMemory()
				begin := time.Now()
				var tries []time.Duration
				var last time.Time
				job := Job{Name: "daily", Spec: "0 6 * * *", Pass: func(_ context.Context, scheduled time.Time, _ kv.Fence) error {
					if scheduled.Day() == 31 {
						tries = append(tries, time.Since(begin).Round(time.Second))
						return fail()
					}
					last = scheduled
					return nil
				}}
				_ = bubble(t, job, m, time.Now, 7*time.Hour)
				// Pauses of 1, 2, 4, 8, 16, 32 and then 60 minutes.
				want := []time.Duration{0, 1, 3, 7, 15, 31, 63, 123, 183, 243, 303}
				for i := range want {
					want[i] *= time.Minute
				}
				if !slices.Equal(tries, want) {
					t.Errorf("tried after %v, want %v", tries, want)
				}
				if last.Day() != 1 || len(m.finished) != 1 {
					t.Errorf("the pass of the first: %v, finished %v", last, m.finished)
				}
			})
		})
	}
}

func TestAFixedClockMakesOnePassHoweverManyTicksCome(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, p := newMemory(), &passes{}
		fixed := time.Date(2030, 5, 1, 9, 0, 0, 0, time.UTC)
		_ = bubble(t, Job{Name: "daily", Spec: "0 6 * * *", Pass: p.pass}, m, func() time.Time { return fixed }, 30*24*time.Hour)
		if !slices.Equal(p.at, []string{"05-01T06:00"}) {
			t.Errorf("got %v", p.at)
		}
	})
}

func TestATickThatIsLostOrEarlyIsMadeUpWithinAMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newMemory()
		var at []time.Duration
		begin := time.Now()
		job := Job{Name: "daily", Spec: "0 6 * * *", Pass: func(context.Context, time.Time, kv.Fence) error {
			at = append(at, time.Since(begin))
			return nil
		}}
		// A clock some seconds behind the one that ticks.
		_ = bubble(t, job, m, func() time.Time { return time.Now().Add(-5 * time.Second) }, 7*time.Hour)
		if len(at) != 2 || at[1] < 6*time.Hour || at[1] > 6*time.Hour+time.Minute {
			t.Errorf("passes after %v", at)
		}
	})
}

func TestALostElectionEndsTheLoopAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, p := newMemory(), &passes{}
		job := Job{Name: "daily", Spec: "0 6 * * *", Pass: func(ctx context.Context, at time.Time, f kv.Fence) error {
			_ = p.pass(ctx, at, f)
			return fmt.Errorf("claim: %w", kv.ErrNotLeader)
		}}
		if err := bubble(t, job, m, time.Now, 24*time.Hour); !errors.Is(err, kv.ErrNotLeader) {
			t.Errorf("got %v", err)
		}
		if len(p.at) != 1 || len(m.finished) != 0 {
			t.Errorf("passes %v, finished %v", p.at, m.finished)
		}
	})
}

func TestALongPassIsNeverOverlappedByTheNext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newMemory()
		running, most, n := 0, 0, 0
		job := Job{Name: "often", Spec: "*/5 * * * *", Pass: func(context.Context, time.Time, kv.Fence) error {
			running++
			n++
			most = max(most, running)
			time.Sleep(17 * time.Minute) // of the bubble's clock
			running--
			return nil
		}}
		_ = bubble(t, job, m, time.Now, 2*time.Hour)
		if most != 1 || n < 5 {
			t.Errorf("%d passes, at most %d at once", n, most)
		}
	})
}

func TestJobsAreCheckedBeforeAnyRuns(t *testing.T) {
	good := Job{Name: "a", Spec: "0 6 * * *"}
	for name, jobs := range map[string][]Job{
		"an impossible date": {good, {Name: "b", Spec: "0 6 31 2 *"}},
		"a name twice":       {good, good},
	} {
		t.Run(name, func(t *testing.T) {
			err := RunJobs(t.Context(), nil, nil, jobs, time.Now, nil)
			if !fault.Is(err, fault.Invalid) {
				t.Errorf("got %v", err)
			}
			if name == "an impossible date" && !strings.Contains(err.Error(), "job b") {
				t.Errorf("%v does not name the job", err)
			}
		})
	}
}
