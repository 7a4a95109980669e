package accessgate

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accesswire"
)

// How often the access service hears that a key is used, and how soon again
// when it did not answer.
const (
	usesEvery = time.Hour
	usesAgain = time.Minute
	usesLimit = 10 * time.Second
	usesBatch = 500
)

// uses tells the access service when keys opened the door: at most once an hour
// of each, and never on the way of a call.
type uses struct {
	logger *slog.Logger
	news   chan struct{}

	mu      sync.Mutex
	due     map[string]time.Time // when the next use of a key is worth telling
	waiting map[string]time.Time // what is to be told: the time of use

	cancel context.CancelFunc
	done   chan struct{}
}

func newUses(logger *slog.Logger) *uses {
	return &uses{logger: logger, news: make(chan struct{}, 1), due: map[string]time.Time{}, waiting: map[string]time.Time{}}
}

// note takes in that a key opened the door.
func (u *uses) note(id string, now time.Time) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if now.Before(u.due[id]) {
		return
	}
	u.due[id], u.waiting[id] = now.Add(usesEvery), now
	select {
	case u.news <- struct{}{}:
	default: // it is ringing already
	}
}

// tell tells what there is until ctx is done or close is called.
func (u *uses) tell(ctx context.Context, door accessv1.AccessServiceClient) {
	ctx, u.cancel = context.WithCancel(ctx)
	u.done = make(chan struct{})
	go func() {
		defer close(u.done)
		for {
			select {
			case <-ctx.Done():
				return
			case <-u.news:
				u.send(ctx, door)
			}
		}
	}()
}

// send tells what waits. What does not arrive is told with a later use.
func (u *uses) send(ctx context.Context, door accessv1.AccessServiceClient) {
	for {
		batch := u.take()
		if len(batch) == 0 {
			return
		}
		out := &accessv1.NoteKeyUsesRequest{}
		for id, at := range batch {
			out.Uses = append(out.Uses, &accessv1.KeyUse{Key: accesswire.KeyName(id), LastUseTime: timestamppb.New(at)})
		}
		asking, cancel := context.WithTimeout(ctx, usesLimit)
		_, err := door.NoteKeyUses(asking, out)
		cancel()
		if err != nil {
			u.later(batch)
			if ctx.Err() == nil {
				u.logger.Info("the last use of keys could not be told; a later use will be", "keys", len(batch), "error", err)
			}
		}
	}
}

func (u *uses) take() map[string]time.Time {
	u.mu.Lock()
	defer u.mu.Unlock()
	batch := map[string]time.Time{}
	for id, at := range u.waiting {
		if len(batch) == usesBatch {
			break
		}
		batch[id] = at
		delete(u.waiting, id)
	}
	return batch
}

func (u *uses) later(batch map[string]time.Time) {
	u.mu.Lock()
	defer u.mu.Unlock()
	for id, at := range batch {
		u.due[id] = at.Add(usesAgain)
	}
}

// close ends the telling.
func (u *uses) close() {
	u.cancel()
	<-u.done
}
