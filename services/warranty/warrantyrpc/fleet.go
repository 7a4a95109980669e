package warrantyrpc

import (
	"context"
	"log/slog"
	"maps"
	"sync"

	"google.golang.org/grpc"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/internal/feed"
	"halfshaft/services/vehicle"
)

// fleet is what the build service says of every vehicle.
type fleet struct {
	*feed.Follower

	mu    sync.RWMutex
	now   made
	lives map[vehicle.Serial]life // of the vehicles last asked about, made of what is now

	stream *buildwire.Stream[buildwire.Packed] // touched by the follower's goroutine only
}

// made is every vehicle and every release. The set of releases is replaced and
// never changed.
type made struct {
	vehicles map[vehicle.Serial]buildwire.Packed
	releases build.ReleaseSet
}

func followBuilds(ctx context.Context, builds Builds, logger *slog.Logger) *fleet {
	f := &fleet{
		now:    made{map[vehicle.Serial]buildwire.Packed{}, build.ReleaseSet{}},
		stream: buildwire.NewStream(func(_ vehicle.Serial, _ string, state buildwire.Packed) buildwire.Packed { return state }),
	}
	f.Follower = feed.Follow(ctx, "warranty from build", func(ctx context.Context) (grpc.ServerStreamingClient[buildv1.WatchBuildsResponse], error) {
		f.stream.Begin()
		return builds.WatchBuilds(ctx, &buildv1.WatchBuildsRequest{})
	}, f.apply, logger)
	return f
}

// apply takes in one answer of the stream.
func (f *fleet) apply(resp *buildv1.WatchBuildsResponse) (revision int64, synced, reset bool, err error) {
	news, reset, err := f.stream.Take(resp)
	if err != nil {
		return 0, false, reset, err
	}
	if news == nil {
		return resp.GetRevision(), false, reset, nil
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.now.vehicles, f.now.releases = news.Into(f.now.vehicles, f.now.releases)
	if news.Whole || len(news.Releases) > 0 {
		f.lives = nil
	}
	for serial := range news.Vehicles {
		delete(f.lives, serial)
	}
	return resp.GetRevision(), true, reset, nil
}

// find gives what is known of a vehicle, and the releases; nil when there is
// none of the serial.
func (f *fleet) find(serial vehicle.Serial) (buildwire.Packed, build.ReleaseSet) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return f.now.vehicles[serial], f.now.releases
}

// life is a vehicle's record, changes and timeline; not to be changed.
type life struct {
	state    *byte // that it was made of
	record   build.Record
	changes  []build.Change
	timeline build.Timeline
}

// mostLives bounds what is kept: some 50 kB for each vehicle.
const mostLives = 256

// life gives what a vehicle was and is, worked out once for each state of it.
// The state is one that find gave, with the releases of then.
func (f *fleet) life(serial vehicle.Serial, state buildwire.Packed, releases build.ReleaseSet) (life, error) {
	f.mu.RLock()
	have, ok := f.lives[serial]
	f.mu.RUnlock()
	if ok && have.state == &state[0] {
		return have, nil
	}
	var err error
	l := life{state: &state[0]}
	if l.record, l.changes, err = state.Read(); err != nil {
		return l, err
	}
	if l.timeline, err = build.TimelineOf(l.record, l.changes, releases); err != nil {
		return l, err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if now := f.now.vehicles[serial]; len(now) == 0 || &now[0] != l.state || !maps.Equal(f.now.releases, releases) {
		return l, nil // it was made of what is no more
	}
	if f.lives == nil {
		f.lives = map[vehicle.Serial]life{}
	}
	for old := range f.lives {
		if len(f.lives) < mostLives {
			break
		}
		delete(f.lives, old)
	}
	f.lives[serial] = l
	return l, nil
}
