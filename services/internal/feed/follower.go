package feed

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"math/rand/v2"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"halfshaft/services/internal/watermark"
)

// Follower keeps up with another service until it is closed.
type Follower struct {
	cancel context.CancelFunc
	done   chan struct{}
	mark   watermark.Mark
	synced watermark.Mark // at 1 once the first snapshot is complete
}

// ErrFollowerClosed is what Wait and Synced return after Close.
var ErrFollowerClosed = errors.New("the feed is closed")

const (
	firstPause = 20 * time.Millisecond
	lastPause  = 5 * time.Second
)

// Follow opens the stream, gives each answer to apply, and opens it again,
// after a growing pause, whenever it breaks. It returns at once and runs
// until ctx is done or Close is called. name is for the log.
//
// apply is called from one goroutine, in order. It returns the revision of
// the other service's state that the answer carries; synced, true when with
// this answer the snapshot at the beginning of a stream is complete (later
// answers may say so again); reset, true when the answer begins a snapshot
// anew, as the first answer of each stream does, so that what is not in it
// must be dropped at the snapshot's end. Revisions count for Wait only once
// the stream is synced. An error of apply breaks the stream.
func Follow[Resp any](
	ctx context.Context, name string,
	open func(ctx context.Context) (grpc.ServerStreamingClient[Resp], error),
	apply func(*Resp) (revision int64, synced bool, reset bool, err error),
	logger *slog.Logger,
) *Follower {
	if logger == nil {
		logger = slog.New(slog.DiscardHandler)
	}
	logger = logger.With("feed", name)
	ctx, cancel := context.WithCancel(ctx)
	f := &Follower{cancel: cancel, done: make(chan struct{})}
	go func() {
		defer close(f.done)
		defer func() {
			f.mark.Fail(ErrFollowerClosed)
			f.synced.Fail(ErrFollowerClosed)
		}()
		pause := firstPause
		for {
			synced, err := stream(ctx, f, open, apply)
			if ctx.Err() != nil {
				return
			}
			if synced {
				pause = firstPause
			}
			logBreak(logger, err, pause)
			if !sleep(ctx, pause/2+rand.N(pause/2)) {
				return
			}
			pause = min(2*pause, lastPause)
		}
	}()
	return f
}

// stream runs one stream to its end and reports whether it got past its
// snapshot.
func stream[Resp any](
	ctx context.Context, f *Follower,
	open func(ctx context.Context) (grpc.ServerStreamingClient[Resp], error),
	apply func(*Resp) (revision int64, synced bool, reset bool, err error),
) (live bool, err error) {
	// Leaving early must end the stream, or gRPC keeps it.
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	s, err := open(ctx)
	if err != nil {
		return false, err
	}
	ever := false
	for {
		resp, err := s.Recv()
		if err != nil {
			return ever, err
		}
		revision, synced, reset, err := apply(resp)
		if err != nil {
			return ever, err
		}
		live = synced || live && !reset
		if live {
			ever = true
			f.mark.Advance(revision)
			f.synced.Advance(1)
		}
	}
}

// logBreak keeps a server that starts or stops out of the warnings.
func logBreak(logger *slog.Logger, err error, pause time.Duration) {
	level := slog.LevelWarn
	if errors.Is(err, io.EOF) || isPassing(status.Code(err)) && pause < lastPause {
		level = slog.LevelDebug
	}
	logger.Log(context.Background(), level, "the feed broke; opening it again", "error", err, "pause", pause)
}

// isPassing says whether a code is what a server gives that starts or stops, or
// a connection that this process is closing.
func isPassing(c codes.Code) bool { return c == codes.Unavailable || c == codes.Canceled }

func sleep(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}

// Wait returns nil once the state here includes the other service's revision.
func (f *Follower) Wait(ctx context.Context, revision int64) error {
	return f.mark.Wait(ctx, revision)
}

// Revision gives the newest revision applied, 0 before the first snapshot is
// complete.
func (f *Follower) Revision() int64 { return f.mark.Revision() }

// Synced returns nil once the first snapshot is complete.
func (f *Follower) Synced(ctx context.Context) error { return f.synced.Wait(ctx, 1) }

// Close ends the follower and waits for the last call of apply to return.
func (f *Follower) Close() {
	f.cancel()
	<-f.done
}
