package leader

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"slices"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/zonetest"
)

// minutes are the scheduled times of a job as one reads its expression aloud,
// minute by minute in UTC, without cron.
func minutes(from, to time.Time, is func(hour, minute, day int, weekday time.Weekday) bool) (all []int64) {
	for days := from.Unix() / 86400; days < to.Unix()/86400; days++ {
		// 1 January 1970 was a Thursday.
		day, weekday := dayOfMonth(days), time.Weekday((days+4)%7)
		for minute := range 1440 {
			if is(minute/60, minute%60, day, weekday) {
				all = append(all, days*86400+int64(minute)*60)
			}
		}
	}
	return all
}

// dayOfMonth counts days of the Gregorian calendar from 1 January 1970.
func dayOfMonth(days int64) int {
	for year := 1970; ; year++ {
		leap := year%4 == 0 && (year%100 != 0 || year%400 == 0)
		for _, length := range []int64{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31} {
			if length == 28 && leap {
				length = 29
			}
			if days < length {
				return int(days) + 1
			}
			days -= length
		}
	}
}

// zoneJob is an expression, and what it says.
type zoneJob struct {
	spec string
	is   func(hour, minute, day int, weekday time.Weekday) bool
}

var quarters = zoneJob{"*/15 * * * *", func(_, m, _ int, _ time.Weekday) bool { return m%15 == 0 }}

// zoneJobs are expressions at the hours at which clocks change.
var zoneJobs = []zoneJob{
	{"30 1 * * *", func(h, m, _ int, _ time.Weekday) bool { return h == 1 && m == 30 }},
	{"30 2 * * *", func(h, m, _ int, _ time.Weekday) bool { return h == 2 && m == 30 }},
	{"0 0 1 * *", func(h, m, d int, _ time.Weekday) bool { return h == 0 && m == 0 && d == 1 }},
	{"59 23 * * 0", func(h, m, _ int, w time.Weekday) bool { return h == 23 && m == 59 && w == time.Sunday }},
}

// counted is a ledger that counts the launches of each scheduled time.
type counted struct {
	done     time.Time
	launched []int64
}

func (c *counted) last(context.Context, string) (time.Time, error) { return c.done, nil }

func (c *counted) begin(_ context.Context, _ string, at, _ time.Time, _ kv.Fence) error {
	c.launched = append(c.launched, at.Unix())
	return nil
}

func (c *counted) finish(_ context.Context, _ string, at, _ time.Time, _ kv.Fence) error {
	c.done = at
	return nil
}

// drive runs a job's loop over the scheduled times, by a clock that shows the
// hour of a zone: a tick a little early, one up to a minute late, and now and
// then the same tick twice. Every hundredth leader dies, and the next begins
// with what the ledger remembers. It gives the launches, in order.
func drive(t *testing.T, spec string, zone *time.Location, scheduled []int64) (launched []int64) {
	synctest.Test(t, func(t *testing.T) {
		random := rand.New(rand.NewPCG(1, 2))
		ledger := &counted{done: time.Unix(scheduled[0]-1, 0).UTC()}
		job := Job{Name: "job", Spec: spec, Pass: func(context.Context, time.Time, kv.Fence) error { return nil }}
		var now atomic.Int64 // seconds since 1970
		var l *loop
		stop := func() {}
		start := func() {
			loops, err := newLoops([]Job{job}, ledger, func() time.Time { return time.Unix(now.Load(), 0).In(zone) }, slog.New(slog.DiscardHandler))
			if err != nil {
				t.Fatal(err)
			}
			l = loops[0]
			ctx, cancel := context.WithCancel(t.Context())
			ended := make(chan error, 1)
			go func() { ended <- l.run(ctx, kv.Fence{}) }()
			stop = func() {
				cancel()
				if err := <-ended; !errors.Is(err, context.Canceled) {
					t.Error(err)
				}
			}
		}
		tick := func(at int64) {
			now.Store(at)
			l.ring()
			synctest.Wait()
		}
		now.Store(scheduled[0] - 1)
		start()
		for i, at := range scheduled {
			if i%100 == 99 {
				stop()
				now.Store(at - 1)
				start()
			}
			if i%7 == 0 {
				tick(at - 1)
			}
			late := random.Int64N(60)
			tick(at + late)
			if i%5 == 0 {
				tick(at + late)
			}
		}
		stop()
		launched = ledger.launched
	})
	return launched
}

// once complains when the launches are not the scheduled times, each once.
func once(launched, scheduled []int64) error {
	if slices.Equal(launched, scheduled) {
		return nil
	}
	for i := range min(len(launched), len(scheduled)) {
		if launched[i] != scheduled[i] {
			return fmt.Errorf("launch %d is that of %s, want %s", i, time.Unix(launched[i], 0).UTC(), time.Unix(scheduled[i], 0).UTC())
		}
	}
	return fmt.Errorf("%d launches, want %d", len(launched), len(scheduled))
}

// changes are the spans of three days around each change of a zone's clock.
func changes(zone *time.Location, from, to time.Time) (spans [][2]time.Time) {
	for at := from.In(zone); ; {
		_, at = at.ZoneBounds()
		if at.IsZero() || at.After(to) {
			return spans
		}
		day := at.UTC().Truncate(24 * time.Hour)
		spans = append(spans, [2]time.Time{day.AddDate(0, 0, -1), day.AddDate(0, 0, 2)})
	}
}

// checkJobs runs each job for years by a zone's clock, the one of every quarter
// of an hour around the clock's changes only. It gives how many launches were
// made.
func checkJobs(t *testing.T, zone *time.Location, from, to time.Time) (launches int) {
	t.Helper()
	check := func(spec string, scheduled []int64) {
		launched := drive(t, spec, zone, scheduled)
		launches += len(launched)
		if err := once(launched, scheduled); err != nil {
			t.Errorf("%s by the clock of %s: %v", spec, zone, err)
		}
	}
	for _, job := range zoneJobs {
		check(job.spec, minutes(from, to, job.is))
	}
	for _, span := range changes(zone, from, to) {
		check(quarters.spec, minutes(span[0], span[1], quarters.is))
	}
	return launches
}

func TestEachScheduledTimeIsLaunchedOnceWhateverTheClocksZone(t *testing.T) {
	// Samoa left out a day in 2011.
	from, to := time.Date(2011, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(2013, 1, 1, 0, 0, 0, 0, time.UTC)
	for _, zone := range zonetest.Some(t) {
		checkJobs(t, zone, from, to)
	}
}

func TestTicksComeOnceWhateverTheMachinesZone(t *testing.T) {
	here := time.Local
	defer func() { time.Local = here }()
	for _, zone := range zonetest.Some(t)[1:6] {
		time.Local = zone
		synctest.Test(t, func(t *testing.T) {
			m, p := newMemory(), &passes{}
			late := 0
			job := Job{Name: "daily", Spec: "30 2 * * *", Pass: func(ctx context.Context, at time.Time, f kv.Fence) error {
				if time.Since(at) >= time.Second && len(p.at) > 0 { // the first is made up for
					late++
				}
				return p.pass(ctx, at, f)
			}}
			// Of the bubble's clock: the look of every minute, which makes up for
			// lost ticks, then comes half a minute after a tick.
			time.Sleep(30 * time.Second)
			// The bubble's time begins on 1 January 2000; 130 days have the
			// change to summer time of the north and from it of the south.
			_ = bubble(t, job, m, time.Now, 130*24*time.Hour)
			if late > 0 {
				t.Errorf("%s: %d ticks did not come by themselves", zone, late)
			}
			if len(p.at) != 131 || p.at[130] != "05-09T02:30" {
				t.Errorf("%s: %d passes, the last %s", zone, len(p.at), p.at[len(p.at)-1])
			}
			for at, n := range m.begun {
				if n != 1 {
					t.Errorf("%s: %s was launched %d times", zone, at, n)
				}
			}
		})
	}
}
