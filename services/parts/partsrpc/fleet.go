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
	recent   map[occasion]*visit // of the questions last asked
	uses     uses

	// Of the stream under way, touched by the follower's goroutine only.
	begun    bool
	incoming *snapshot // nil once the stream has caught up
}

// occasion is a vehicle as it is known, on a date. A change makes another
// known, so that nothing outdated is ever found by it.
type occasion struct {
	known *known
	on    vehicle.Date
}

// mostRecent bounds what is kept of vehicles that were just asked about: some
// hundreds of kB each. Support asks about one vehicle many times in a row.
const mostRecent = 64

// visit is a vehicle as it stands on a date, made ready for questions when the
// first is asked.
type visit struct {
	vehicle *parts.Vehicle
	places  *parts.Places

	mu      sync.Mutex
	ready   *parts.Ready
	version int64 // of the catalogue that it was made ready with
}

// with makes the vehicle ready for a catalogue, which is locked for reading.
func (v *visit) with(c *parts.Catalogue, version int64) *parts.Ready {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.ready == nil || v.version != version {
		answerer := parts.Answerer{Catalogue: c, Places: v.places}
		v.ready, v.version = answerer.Prepare(v.vehicle), version
	}
	return v.ready
}

// known is one vehicle; it is never changed, only replaced.
type known struct{ state buildwire.Packed }

// snapshot is the beginning of a stream, which counts when it is complete: a
// vehicle that is not in it is gone.
type snapshot struct {
	vehicles map[vehicle.Serial]*known
	releases build.ReleaseSet
}

func follow(ctx context.Context, builds buildv1.BuildServiceClient, logger *slog.Logger) *fleet {
	f := &fleet{vehicles: map[vehicle.Serial]*known{}, releases: build.ReleaseSet{}, places: parts.NewPlaces(nil),
		recent: map[occasion]*visit{}}
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
		f.recent = map[occasion]*visit{}
	}
	f.uses.hear(f.vehicles, news.vehicles, f.releases)
	return resp.GetRevision(), true, reset, nil
}

// vehicle gives a vehicle as it stands on a date, with the places that the
// releases know. It is nil when there is none of the serial. The error is that
// of build.Configure.
func (f *fleet) vehicle(serial vehicle.Serial, on vehicle.Date) (*visit, error) {
	f.mu.RLock()
	known, releases, places := f.vehicles[serial], f.releases, f.places
	v := f.recent[occasion{known, on}]
	f.mu.RUnlock()
	if known == nil || v != nil {
		return v, nil
	}
	record, changes, err := known.state.Read()
	if err != nil {
		return nil, err
	}
	conf, specified, err := build.ConfigureSpecified(record, relevant(changes), releases, on)
	if err != nil {
		return nil, err
	}
	v = &visit{places: places, vehicle: &parts.Vehicle{Configuration: conf, Specified: specified, Built: record.Built, Filled: record.Fluids}}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.places == places { // the releases are still those that it was made with
		for one := range f.recent { // any one makes room
			if len(f.recent) < mostRecent {
				break
			}
			delete(f.recent, one)
		}
		f.recent[occasion{known, on}] = v
	}
	return v, nil
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
		serial, state, err := buildwire.Pack(m)
		if err != nil {
			return err
		}
		s.vehicles[serial] = &known{state}
	}
	return nil
}

// relevant leaves out the changes that no part, fluid or setting goes by.
func relevant(changes []build.Change) []build.Change {
	var out []build.Change
	for _, c := range changes {
		switch c.Kind {
		case build.DialChanged, build.PlateChanged:
		default:
			out = append(out, c)
		}
	}
	return out
}
