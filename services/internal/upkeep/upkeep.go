// Package upkeep keeps the store healthy without anybody's help: it forgets old
// request ids, watches the quota and recovers the store when it is used up, and
// takes a snapshot each night that counts only once it was restored and
// compared.
//
// # What must be backed up beside the snapshots
//
// A snapshot holds every key of the store and nothing else. The secrets are
// never in it, on purpose: who has both reads everybody's address. Of the data
// directory DATA, keep copies of these apart from the snapshots:
//
//	DATA/secrets/master.key             without it the people in the store cannot be read, by anyone, ever
//	DATA/secrets/people-keys-*.sealed   there once somebody was erased: without it older snapshots give nobody
//	DATA/secrets/links.key              without it the links in mails already sent stop working
//	DATA/secrets/service.key            can be made anew; the other processes of a split need the new one
//
// An erasure replaces the first two: copy them anew, and destroy the old copies.
//
// DATA/documents, sealed as well, goes with the snapshots. Beside these keep
// the command line or unit with its certificates, mail password and
// addresses, which never were in DATA. DATA/run is made at each start.
//
// Snapshots on the disk of the store do not survive that disk: copying
// DATA/snapshots to another building stays the operators' part.
package upkeep

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"golang.org/x/sync/errgroup"

	"halfshaft/services/internal/embedetcd"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
)

// Config says what is looked after.
type Config struct {
	Etcd   *embedetcd.Server // nil on a cluster, whose own operators defragment and take snapshots
	Client *clientv3.Client
	Store  *kv.Store // over Client

	Services    []string // whose answered request ids are trimmed
	SnapshotDir string   // made with mode 0700 if absent; "": no snapshots
	Keep        int      // snapshots kept; 0: DefaultKeep

	Clock  func() time.Time // nil: the machine's
	Logger *slog.Logger     // nil: say nothing
}

// DefaultKeep is two weeks of nights: long enough to notice, after a holiday,
// that records went wrong.
const DefaultKeep = 14

// requestsKept is how long the answer to a request id is remembered: longer
// than any client retries.
const requestsKept = 30 * 24 * time.Hour

func (c Config) normal() Config {
	if c.Keep <= 0 {
		c.Keep = DefaultKeep
	}
	if c.Clock == nil {
		c.Clock = time.Now
	}
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	return c
}

// Run runs the jobs and the watch until ctx is done, and returns its error.
func Run(ctx context.Context, c Config) error {
	c = c.normal()
	group, ctx := errgroup.WithContext(ctx)
	group.Go(func() error { return Watch(ctx, c) })
	group.Go(func() error { return leader.RunJobs(ctx, c.Client, c.Store, Jobs(c), c.Clock, c.Logger) })
	return group.Wait()
}

// Jobs gives the passes that one process of many makes. On a cluster that is
// the trimming alone. Recovering a full store is not among them: a launch is
// recorded before its pass, and a full store records nothing. Watch does it.
//
// No write here carries the fence: the passes only delete what is out of date
// for everybody, and write files.
func Jobs(c Config) []leader.Job {
	c = c.normal()
	jobs := []leader.Job{{
		Name: "trim-requests", Spec: "23 * * * *",
		Pass: func(ctx context.Context, scheduled time.Time, _ kv.Fence) error {
			return c.trim(ctx, scheduled.Add(-requestsKept))
		},
	}}
	if c.Etcd == nil {
		return jobs
	}
	jobs = append(jobs, leader.Job{
		Name: "defragment-store", Spec: "40 2 * * *",
		Pass: func(context.Context, time.Time, kv.Fence) error { return c.tidy() },
	})
	if c.SnapshotDir != "" {
		jobs = append(jobs, leader.Job{
			Name: "nightly-snapshot", Spec: "10 3 * * *",
			Pass: func(ctx context.Context, _ time.Time, _ kv.Fence) error {
				_, err := Take(ctx, c)
				return err
			},
		})
	}
	return jobs
}

// trim forgets the request ids that were answered before a moment.
func (c Config) trim(ctx context.Context, before time.Time) error {
	for _, service := range c.Services {
		n, err := c.Store.TrimRequests(ctx, service, before)
		if err != nil {
			return fmt.Errorf("trim the request ids of %s: %w", service, err)
		}
		if n > 0 {
			c.Logger.Info("old request ids are forgotten", "service", service, "count", n)
		}
	}
	return nil
}

// tidy gives free pages back at a quiet hour, where the file is large and has
// enough of them to be worth making everybody wait.
func (c Config) tidy() error {
	before := c.Etcd.Usage()
	if !before.Full(nearlyFull) || before.File-before.InUse < before.File/10 {
		return nil
	}
	if err := c.Etcd.Defragment(); err != nil {
		return err
	}
	c.Logger.Info("the store's free pages were given back",
		"mib_before", mib(before.File), "mib_now", mib(c.Etcd.Usage().File))
	return nil
}
