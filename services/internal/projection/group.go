package projection

import (
	"context"
	"fmt"
	"sync"
)

// Waiter is something that follows a service's state: a Follower of its keys
// or a feed of its API.
type Waiter interface {
	Wait(ctx context.Context, revision int64) error
}

// Group knows what in this process follows which service, so that a write can
// wait until a caller who reads next reads it. The zero value is ready. It is
// safe for concurrent use.
type Group struct {
	mu        sync.RWMutex
	followers map[string][]Waiter
}

// Add registers a follower of the service. There is no removal: followers
// live as long as the process.
func (g *Group) Add(service string, w interface {
	Wait(ctx context.Context, revision int64) error
}) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.followers == nil {
		g.followers = map[string][]Waiter{}
	}
	// A copy, since Wait reads the slice without the lock.
	g.followers[service] = append(append([]Waiter(nil), g.followers[service]...), w)
}

// Wait returns nil once every registered follower of the service has applied
// the revision. An error means that the write is made and not everyone here
// has seen it yet.
func (g *Group) Wait(ctx context.Context, service string, revision int64) error {
	g.mu.RLock()
	followers := g.followers[service]
	g.mu.RUnlock()
	for _, w := range followers {
		if err := w.Wait(ctx, revision); err != nil {
			return fmt.Errorf("wait for the followers of %s at revision %d: %w", service, revision, err)
		}
	}
	return nil
}
