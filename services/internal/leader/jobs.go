package leader

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/robfig/cron/v3"
	clientv3 "go.etcd.io/etcd/client/v3"
	"golang.org/x/sync/errgroup"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
)

// Job is work that comes round. Pass does all of it that is due, selected
// from state and not from the time of the tick, so that a pass too many does
// nothing and a pass too few is made up by the next. Every write of a pass
// carries the fence.
type Job struct {
	Name string // stable: elections and launch records bear it
	Spec string // cron expression, UTC
	Pass func(ctx context.Context, scheduled time.Time, fence kv.Fence) error

	// Patient waits, where the job was never launched, for its next time instead
	// of making up for the one before: nobody could look yet at what it will do.
	Patient bool
}

// RunJobs runs every job in whichever process leads it, until ctx is done. It
// refuses all when one expression is wrong. clock is what decides which
// scheduled times have come; ticks only wake. A pass that fails or panics is
// tried again after a growing pause, and one that a crash cut short when the
// next leader takes over.
func RunJobs(ctx context.Context, client *clientv3.Client, store *kv.Store, jobs []Job, clock func() time.Time, logger *slog.Logger) error {
	if logger == nil {
		logger = slog.New(slog.DiscardHandler)
	}
	loops, err := newLoops(jobs, &launches{store}, clock, logger)
	if err != nil {
		return err
	}
	stop := startTicks(loops, logger)
	defer stop()
	group, ctx := errgroup.WithContext(ctx)
	for _, l := range loops {
		group.Go(func() error {
			return Run(ctx, client, Config{Name: "job-" + l.job.Name, Logger: logger}, l.run)
		})
	}
	return group.Wait()
}

func newLoops(jobs []Job, ledger ledger, clock func() time.Time, logger *slog.Logger) ([]*loop, error) {
	var loops []*loop
	names := map[string]bool{}
	for _, j := range jobs {
		s, err := parseSpec(j.Spec)
		if err != nil {
			return nil, fmt.Errorf("job %s: %w", j.Name, err)
		}
		if names[j.Name] {
			return nil, fault.InvalidField("name", j.Name, "each job's name once")
		}
		names[j.Name] = true
		loops = append(loops, &loop{
			job: j, schedule: s, ledger: ledger, clock: clock, logger: logger.With("job", j.Name),
			wake: make(chan struct{}, 1),
		})
	}
	return loops, nil
}

// startTicks wakes each loop at its scheduled times.
func startTicks(loops []*loop, logger *slog.Logger) (stop func()) {
	c := cron.New(cron.WithLocation(time.UTC), cron.WithChain(cron.Recover(cronLogger{logger})))
	for _, l := range loops {
		c.Schedule(l.schedule, cron.FuncJob(l.ring))
	}
	c.Start()
	return func() { <-c.Stop().Done() }
}

// cronLogger writes cron's errors to our log.
type cronLogger struct{ *slog.Logger }

// Info implements cron.Logger; cron says when it wakes, which nobody needs.
func (cronLogger) Info(string, ...any) {}

// Error implements cron.Logger.
func (l cronLogger) Error(err error, msg string, keys ...any) {
	l.Logger.Error("cron: "+msg, append(keys, "error", err)...)
}

// ledger remembers which launches were made.
type ledger interface {
	// last gives the newest scheduled time whose pass was finished, the zero
	// time for none.
	last(ctx context.Context, job string) (time.Time, error)
	// begin records a launch before its pass, once for each scheduled time.
	begin(ctx context.Context, job string, scheduled, now time.Time, fence kv.Fence) error
	// finish records that the pass of a launch was made.
	finish(ctx context.Context, job string, scheduled, now time.Time, fence kv.Fence) error
}

// loop is one job's life in this process. It has no clock but the one it is
// given; what is left to real time is the pause after a failure.
type loop struct {
	job      Job
	schedule schedule
	ledger   ledger
	clock    func() time.Time
	logger   *slog.Logger
	wake     chan struct{}
}

// ring wakes the loop; it never blocks.
func (l *loop) ring() {
	select {
	case l.wake <- struct{}{}:
	default:
	}
}

const (
	firstRetry = time.Minute
	lastRetry  = time.Hour
	lookAgain  = time.Minute
)

// run is the work of the elected leader. Its first look at the clock is the
// start-up sweep.
func (l *loop) run(ctx context.Context, fence kv.Fence) error {
	done, err := l.ledger.last(ctx, l.job.Name)
	if err != nil {
		return fmt.Errorf("read the launches: %w", err)
	}
	if done.IsZero() && l.job.Patient {
		if done, err = l.skip(ctx, fence); err != nil {
			return err
		}
	}
	var failed time.Time // the scheduled time whose pass waits for its retry
	pause := firstRetry
	retry := time.NewTimer(pause)
	retry.Stop()
	defer retry.Stop()
	// A tick may be lost, or come a moment before the clock agrees.
	look := time.NewTicker(lookAgain)
	defer look.Stop()
	var due, next time.Time // the scheduled times around now
	for {
		if now := l.clock(); due.IsZero() || now.Before(due) || !now.Before(next) {
			due = l.schedule.latest(now)
			next = l.schedule.Next(now.UTC())
		}
		if due.After(done) && due.After(failed) {
			err := l.launch(ctx, due, fence)
			switch {
			case ctx.Err() != nil:
				return ctx.Err()
			case errors.Is(err, kv.ErrNotLeader):
				return err
			case err != nil:
				l.logger.Error("a pass failed; it will be tried again", "scheduled", due, "error", err, "pause", pause)
				failed = due
				retry.Reset(pause)
				pause = min(2*pause, lastRetry)
			default:
				done, pause = due, firstRetry
				retry.Stop()
			}
			continue
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-l.wake:
		case <-look.C:
		case <-retry.C:
			failed = time.Time{}
		}
	}
}

// skip records the newest scheduled time as done with, without a pass.
func (l *loop) skip(ctx context.Context, fence kv.Fence) (time.Time, error) {
	now := l.clock()
	due := l.schedule.latest(now)
	if err := l.ledger.finish(ctx, l.job.Name, due, now, fence); err != nil {
		return time.Time{}, fmt.Errorf("record a launch that is not made: %w", err)
	}
	return due, nil
}

// launch records, passes, and records the end.
func (l *loop) launch(ctx context.Context, due time.Time, fence kv.Fence) error {
	if err := l.ledger.begin(ctx, l.job.Name, due, l.clock(), fence); err != nil {
		return fmt.Errorf("record the launch: %w", err)
	}
	if err := safely(func() error { return l.job.Pass(ctx, due, fence) }); err != nil {
		return err
	}
	if err := l.ledger.finish(ctx, l.job.Name, due, l.clock(), fence); err != nil {
		return fmt.Errorf("record the end of the launch: %w", err)
	}
	return nil
}
