// Package leader runs a job in one process of many: an election says which,
// a fence on every write makes sure of it, and a cron loop starts the passes.
package leader

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"runtime/debug"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"go.etcd.io/etcd/client/v3/concurrency"

	"halfshaft/services/internal/kv"
)

// Config names an election.
type Config struct {
	Name   string        // the election's key is /halfshaft/v1/elections/<name>
	TTL    time.Duration // how long a silent leader keeps the office; 0: 10 s, at least 1 s
	Logger *slog.Logger  // nil: say nothing
}

const defaultTTL = 10 * time.Second

// goodbye is how long leaving may take; a lease that cannot be given back
// ends by itself after the TTL.
const goodbye = 2 * time.Second

// Run campaigns until it wins, calls work, and campaigns again when the
// session is lost or work fails. work's context is cancelled when the session
// is lost, and work must then return; its fence goes into every write it
// makes, because that news can come late. Run returns nil when work returns
// nil, and ctx's error when ctx is done; the office is given up first, so
// that the next process need not wait for the TTL.
func Run(ctx context.Context, client *clientv3.Client, c Config, work func(ctx context.Context, fence kv.Fence) error) error {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	if c.TTL == 0 {
		c.TTL = defaultTTL
	}
	logger := c.Logger.With("election", c.Name)
	for pause := firstPause; ; pause = min(2*pause, lastPause) {
		began := time.Now()
		err := term(ctx, client, c, logger, work)
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err == nil:
			return nil
		case errors.Is(err, kv.ErrNotLeader), errors.Is(err, errSessionLost):
			logger.Info("the election is lost; standing again", "error", err)
		default:
			logger.Warn("the leader's work failed; standing again", "error", err, "pause", pause)
		}
		if time.Since(began) > lastPause {
			pause = firstPause // it went well for a while
		}
		if !Sleep(ctx, pause) {
			return ctx.Err()
		}
	}
}

const (
	firstPause = 50 * time.Millisecond
	lastPause  = 10 * time.Second
)

var errSessionLost = errors.New("the session is lost")

// term is one candidacy, and the time in office if it is won.
func term(ctx context.Context, client *clientv3.Client, c Config, logger *slog.Logger, work func(context.Context, kv.Fence) error) error {
	seconds := max(1, int64((c.TTL+time.Second-1)/time.Second))
	lease, err := client.Grant(ctx, seconds)
	if err != nil {
		return fmt.Errorf("grant a lease: %w", err)
	}
	session, err := concurrency.NewSession(client, concurrency.WithLease(lease.ID), concurrency.WithTTL(int(seconds)))
	if err != nil {
		return fmt.Errorf("open a session: %w", err)
	}
	defer leave(client, session)

	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	// Watching the session before the campaign covers a lease lost in it.
	watched := make(chan struct{})
	defer func() { cancel(); <-watched }()
	go func() {
		defer close(watched)
		select {
		case <-session.Done():
			cancel()
		case <-ctx.Done():
		}
	}()
	election := concurrency.NewElection(session, electionKey(c.Name))
	if err := election.Campaign(ctx, candidate()); err != nil {
		return lost(session, fmt.Errorf("campaign: %w", err))
	}
	fence := kv.Fence{Key: election.Key(), CreateRevision: election.Rev()}
	logger.Info("leading", "revision", fence.CreateRevision)
	return lost(session, safely(func() error { return work(ctx, fence) }))
}

// lost names the loss of the session as the reason, whatever work made of its
// cancelled context.
func lost(session *concurrency.Session, err error) error {
	select {
	case <-session.Done():
		return errors.Join(errSessionLost, err)
	default:
		return err
	}
}

// leave gives the lease back, and with it the office, if etcd answers soon.
func leave(client *clientv3.Client, session *concurrency.Session) {
	session.Orphan() // no more keepalives
	ctx, cancel := context.WithTimeout(client.Ctx(), goodbye)
	defer cancel()
	// An error changes nothing: the lease then ends by itself.
	_, _ = client.Revoke(ctx, session.Lease())
}

func electionKey(name string) string { return kv.Prefix("elections") + name }

// candidate tells an operator who leads.
func candidate() string {
	host, err := os.Hostname()
	if err != nil {
		host = "unknown"
	}
	return fmt.Sprintf("%s pid %d", host, os.Getpid())
}

// safely turns a panic into an error with its stack.
func safely(f func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v\n%s", p, debug.Stack())
		}
	}()
	return f()
}

// Sleep waits, and gives false when ctx is done first.
func Sleep(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}
