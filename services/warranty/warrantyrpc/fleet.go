package warrantyrpc

import (
	"context"
	"fmt"
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

	mu  sync.RWMutex
	now made

	// Of the stream under way, touched by the follower's goroutine only.
	begun    bool
	incoming *made // nil once the stream has caught up
}

// made is every vehicle and every release. The set of releases is replaced and
// never changed.
type made struct {
	vehicles map[vehicle.Serial]buildwire.Packed
	releases build.ReleaseSet
}

func followBuilds(ctx context.Context, builds Builds, logger *slog.Logger) *fleet {
	f := &fleet{now: made{map[vehicle.Serial]buildwire.Packed{}, build.ReleaseSet{}}}
	f.Follower = feed.Follow(ctx, "warranty from build", func(ctx context.Context) (grpc.ServerStreamingClient[buildv1.WatchBuildsResponse], error) {
		f.begun = false
		return builds.WatchBuilds(ctx, &buildv1.WatchBuildsRequest{})
	}, f.apply, logger)
	return f
}

// apply takes in one answer of the stream.
func (f *fleet) apply(resp *buildv1.WatchBuildsResponse) (revision int64, synced, reset bool, err error) {
	if !f.begun {
		f.begun, reset = true, true
		f.incoming = &made{map[vehicle.Serial]buildwire.Packed{}, build.ReleaseSet{}}
	}
	news, err := readBuilds(resp)
	if err != nil {
		return 0, false, reset, err
	}
	if f.incoming != nil {
		maps.Copy(f.incoming.vehicles, news.vehicles)
		maps.Copy(f.incoming.releases, news.releases)
		if !resp.GetSynced() {
			return resp.GetRevision(), false, reset, nil
		}
		f.mu.Lock()
		f.now = *f.incoming
		f.mu.Unlock()
		f.incoming = nil
		return resp.GetRevision(), true, reset, nil
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	maps.Copy(f.now.vehicles, news.vehicles)
	if len(news.releases) > 0 {
		releases := maps.Clone(f.now.releases)
		maps.Copy(releases, news.releases)
		f.now.releases = releases
	}
	return resp.GetRevision(), true, reset, nil
}

// readBuilds converts what an answer brings.
func readBuilds(resp *buildv1.WatchBuildsResponse) (made, error) {
	m := made{map[vehicle.Serial]buildwire.Packed{}, build.ReleaseSet{}}
	for _, p := range resp.GetReleases() {
		r, err := buildwire.Release(p)
		if err != nil {
			return m, fmt.Errorf("read release %s: %w", p.GetName(), err)
		}
		m.releases[r.ID] = &r
	}
	for _, p := range resp.GetBuilds() {
		serial, state, err := buildwire.Pack(p)
		if err != nil {
			return m, err
		}
		m.vehicles[serial] = state
	}
	return m, nil
}

// find gives what is known of a vehicle, and the releases; nil when there is
// none of the serial.
func (f *fleet) find(serial vehicle.Serial) (buildwire.Packed, build.ReleaseSet) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return f.now.vehicles[serial], f.now.releases
}
