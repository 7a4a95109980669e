// Package projection follows a prefix of etcd, so that a service can answer
// reads from memory: list at a revision, watch from the next, and list again
// and compare when the watch fell behind a compaction.
package projection

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"log/slog"
	"time"

	"github.com/google/uuid"
	"go.etcd.io/etcd/api/v3/mvccpb"
	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/grpc/metadata"

	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/watermark"
)

// Event is one key's new state. Handlers may keep Key and Value.
type Event struct {
	Key            string
	Value          []byte // nil when Deleted
	Deleted        bool
	ModRevision    int64 // for a deletion that a relist found: the revision of the list
	CreateRevision int64 // 0 when Deleted
}

// Handler keeps the projected state.
//
// Apply gets events in the order of their revisions, always from one
// goroutine. All events of one transaction come in one call. A first load or
// a relist comes in several calls, all with the revision of the list; the
// state is whole when the last of them is applied, which Start and Wait wait
// for. After a relist only what differs comes: keys changed meanwhile as they
// are now, keys gone as Deleted. Events may be empty: then only the revision
// has moved on. Applying the same event twice must do no harm.
//
// An error ends the follower, and Wait passes it on: return one only when the
// state can no longer be trusted.
//
// Known gives each key that the state rests on, in any order, and the revision
// it was last told of, or 0 where it is not kept: such a key comes again with
// a relist. What is not given cannot be found gone. It is asked before a
// relist only, between calls of Apply, so that nobody has to keep the keys of
// a fleet twice.
type Handler interface {
	Apply(events []Event, revision int64) error
	Known() iter.Seq2[string, int64]
}

// Follower keeps a Handler up to date until it is closed.
type Follower struct {
	client  *clientv3.Client
	prefix  string
	handler Handler
	logger  *slog.Logger

	ctx    context.Context
	cancel context.CancelFunc
	done   chan struct{}
	mark   watermark.Mark
}

// ErrClosed is what Wait returns after Close.
var ErrClosed = errors.New("the projection is closed")

// Start follows every key under the prefix and returns after the first full
// load. The follower lives until ctx is done, Close is called, the client is
// closed, or the handler fails.
func Start(ctx context.Context, client *clientv3.Client, prefix string, h Handler, logger *slog.Logger) (*Follower, error) {
	if logger == nil {
		logger = slog.New(slog.DiscardHandler)
	}
	f := &Follower{
		client: client, prefix: prefix, handler: h, logger: logger.With("prefix", prefix),
		done: make(chan struct{}),
	}
	f.ctx, f.cancel = context.WithCancel(alone(ctx))
	loaded := make(chan error, 1)
	go f.run(loaded)
	if err := <-loaded; err != nil {
		f.Close()
		return nil, fmt.Errorf("load %s: %w", prefix, err)
	}
	return f, nil
}

// alone gives a context whose watches go over a stream of their own: the client
// puts those of equal metadata into one. etcd tells a stream how far it is only
// when every watch of it has begun, and one from the next revision on begins
// when somebody writes: at a quiet store it would keep the others of its stream
// waiting.
//
// A member that is cut off from its cluster must end a watch, not go silent.
func alone(ctx context.Context) context.Context {
	return metadata.AppendToOutgoingContext(clientv3.WithRequireLeader(ctx), "halfshaft-follower", uuid.NewString())
}

// Wait returns nil once the handler has applied everything up to the revision.
func (f *Follower) Wait(ctx context.Context, revision int64) error {
	return f.mark.WaitNudging(ctx, revision, f.nudge)
}

// nudge asks etcd how far the watch is. A revision that touched no key of the
// prefix sends no event, so without asking Wait could wait for ever.
func (f *Follower) nudge() {
	if err := f.client.RequestProgress(f.ctx); err != nil && f.ctx.Err() == nil {
		f.logger.Debug("projection: asking for progress failed", "error", err)
	}
}

// Revision gives the revision up to which everything is applied.
func (f *Follower) Revision() int64 { return f.mark.Revision() }

// Err gives the reason why the follower ended, nil while it follows.
func (f *Follower) Err() error { return f.mark.Err() }

// Close ends the follower and waits for the handler's last call to return.
func (f *Follower) Close() {
	f.cancel()
	<-f.done
}

func (f *Follower) run(loaded chan<- error) {
	defer close(f.done)
	defer f.cancel()
	// The client's end is ours, also when nobody closes us.
	stop := context.AfterFunc(f.client.Ctx(), f.cancel)
	defer stop()

	rev, err := f.load()
	loaded <- err
	for err == nil {
		rev, err = f.follow(rev)
		if errors.Is(err, kv.ErrCompacted) {
			f.logger.Warn("projection: the watch fell behind a compaction; listing again", "revision", rev)
			rev, err = f.reload()
		}
	}
	if f.ctx.Err() != nil {
		err = ErrClosed
	} else {
		f.logger.Error("projection: ended", "error", err)
	}
	f.mark.Fail(err)
}

// reload is load for a follower that runs already: an etcd out of reach is
// waited for.
func (f *Follower) reload() (int64, error) {
	for pause := firstPause; ; pause = min(2*pause, lastPause) {
		rev, err := f.load()
		var broken *handlerError
		if err == nil || errors.As(err, &broken) {
			return rev, err
		}
		f.logger.Warn("projection: listing failed; trying again", "error", err, "pause", pause)
		if !f.sleep(pause) {
			return 0, f.ctx.Err()
		}
	}
}

const (
	firstPause = 20 * time.Millisecond
	lastPause  = 2 * time.Second
)

func (f *Follower) sleep(d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-f.ctx.Done():
		return false
	}
}

// handlerError marks an error as the handler's, which no retry mends.
type handlerError struct{ error }

func (e *handlerError) Unwrap() error { return e.error }

func (f *Follower) apply(events []Event, revision int64) error {
	if err := f.handler.Apply(events, revision); err != nil {
		return &handlerError{err}
	}
	return nil
}

// follow watches from the revision after rev until the watch ends, and gives
// how far it came. A nil error means: watch again from there.
func (f *Follower) follow(rev int64) (int64, error) {
	ctx, cancel := context.WithCancel(f.ctx)
	defer cancel()
	watch := f.client.Watch(ctx, f.prefix, clientv3.WithPrefix(), clientv3.WithRev(rev+1))
	for resp := range watch {
		if resp.CompactRevision != 0 {
			return rev, kv.ErrCompacted
		}
		if err := resp.Err(); err != nil {
			f.logger.Warn("projection: the watch broke; watching again", "error", err)
			break
		}
		events := events(resp.Events)
		switch {
		case len(events) > 0:
			// Not the header's revision: a watch that catches up is sent in
			// parts, each with the store's present revision in its header.
			rev = events[len(events)-1].ModRevision
		case resp.IsProgressNotify() && resp.Header.Revision > rev:
			rev = resp.Header.Revision
		default:
			continue
		}
		if err := f.apply(events, rev); err != nil {
			return rev, err
		}
		f.mark.Advance(rev)
	}
	if !f.sleep(firstPause) {
		return rev, f.ctx.Err()
	}
	return rev, nil
}

// events converts what a watch sent.
func events(from []*clientv3.Event) []Event {
	events := make([]Event, len(from))
	for i, e := range from {
		key := string(e.Kv.Key)
		if e.Type == mvccpb.Event_DELETE {
			events[i] = Event{Key: key, Deleted: true, ModRevision: e.Kv.ModRevision}
			continue
		}
		events[i] = Event{Key: key, Value: e.Kv.Value, ModRevision: e.Kv.ModRevision, CreateRevision: e.Kv.CreateRevision}
	}
	return events
}
