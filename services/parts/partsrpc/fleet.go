package partsrpc

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
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// fleet is what the build service says of every vehicle, as far as parts ask:
// asking it for each question would cost more than the answer, and a write to
// it waits for this follower, so that a caller who records a change and asks
// next is answered by it.
type fleet struct {
	*feed.Follower

	mu       sync.RWMutex
	vehicles map[vehicle.Serial]*known
	releases build.ReleaseSet // never changed, replaced
	places   *parts.Places

	// Of the stream under way, touched by the follower's goroutine only.
	begun    bool
	incoming *snapshot // nil once the stream has caught up
}

// known is one vehicle; it is never changed, only replaced.
type known struct {
	record  build.Record
	changes []build.Change
}

// snapshot is the beginning of a stream, which counts when it is complete: a
// vehicle that is not in it is gone.
type snapshot struct {
	vehicles map[vehicle.Serial]*known
	releases build.ReleaseSet
}

func follow(ctx context.Context, builds buildv1.BuildServiceClient, logger *slog.Logger) *fleet {
	f := &fleet{vehicles: map[vehicle.Serial]*known{}, releases: build.ReleaseSet{}, places: parts.NewPlaces(nil)}
	f.Follower = feed.Follow(ctx, "parts from build",
		func(ctx context.Context) (grpc.ServerStreamingClient[buildv1.WatchBuildsResponse], error) {
			f.begun = false
			return builds.WatchBuilds(ctx, &buildv1.WatchBuildsRequest{})
		}, f.apply, logger)
	return f
}

// apply takes in one answer of the stream.
func (f *fleet) apply(resp *buildv1.WatchBuildsResponse) (revision int64, synced, reset bool, err error) {
	if !f.begun {
		f.begun, reset = true, true
		f.incoming = &snapshot{vehicles: map[vehicle.Serial]*known{}, releases: build.ReleaseSet{}}
	}
	news := snapshot{vehicles: map[vehicle.Serial]*known{}, releases: build.ReleaseSet{}}
	if err := news.read(resp); err != nil {
		return 0, false, reset, err
	}
	if f.incoming != nil {
		maps.Copy(f.incoming.vehicles, news.vehicles)
		maps.Copy(f.incoming.releases, news.releases)
		if !resp.GetSynced() {
			return resp.GetRevision(), false, reset, nil
		}
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.incoming != nil {
		f.vehicles, news = f.incoming.vehicles, snapshot{releases: f.incoming.releases}
		f.releases, f.incoming = nil, nil
	}
	maps.Copy(f.vehicles, news.vehicles)
	if len(news.releases) > 0 || f.releases == nil {
		releases := maps.Clone(f.releases)
		if releases == nil {
			releases = build.ReleaseSet{}
		}
		maps.Copy(releases, news.releases)
		f.releases, f.places = releases, parts.NewPlaces(releases)
	}
	return resp.GetRevision(), true, reset, nil
}

// vehicle gives what is known of a serial, nil for nothing, with the releases
// of the same moment.
func (f *fleet) vehicle(serial vehicle.Serial) (*known, build.ReleaseSet, *parts.Places) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return f.vehicles[serial], f.releases, f.places
}

// read converts what an answer brings.
func (s *snapshot) read(resp *buildv1.WatchBuildsResponse) error {
	for _, m := range resp.GetReleases() {
		r, err := buildwire.Release(m)
		if err != nil {
			return fmt.Errorf("read release %s: %w", m.GetName(), err)
		}
		s.releases[r.ID] = &r
	}
	for _, m := range resp.GetBuilds() {
		record, err := buildwire.Record(m.GetBuild())
		if err != nil {
			return fmt.Errorf("read %s: %w", m.GetBuild().GetName(), err)
		}
		changes, err := buildwire.Changes(m.GetChanges())
		if err != nil {
			return fmt.Errorf("read the changes of %s: %w", m.GetBuild().GetName(), err)
		}
		s.vehicles[record.Serial] = &known{trimmed(record), relevant(changes)}
	}
	return nil
}

// trimmed leaves out what no question about parts reads.
func trimmed(r build.Record) build.Record {
	return build.Record{
		Serial: r.Serial, Release: r.Release, Options: r.Options, Components: r.Components,
		Deviations: r.Deviations, Built: r.Built, Delivered: r.Delivered,
	}
}

// relevant leaves out the changes that put no part anywhere.
func relevant(changes []build.Change) []build.Change {
	var out []build.Change
	for _, c := range changes {
		switch c.Kind {
		case build.Tyres, build.AxleRatio, build.SpeedometerDrive, build.DialChanged, build.PlateChanged:
		default:
			out = append(out, c)
		}
	}
	return out
}
