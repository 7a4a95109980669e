package partsrpc

import (
	"context"
	"log/slog"
	"sync"

	"google.golang.org/grpc"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
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

	stream *buildwire.Stream[*known] // touched by the follower's goroutine only
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

	sheet   *partsv1.TechnicalSheet // all of it, written once; nil before somebody asks
	sheetOf *parts.Ready            // what it was written from
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

// wholeSheet gives the technical data of all positions, of a vehicle that with has
// made ready while the catalogue is locked: pages, job sheets and handbooks ask for
// it several times each. It is shared and not to be changed.
func (v *visit) wholeSheet(r *parts.Ready) *partsv1.TechnicalSheet {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.sheetOf != r {
		v.sheet, v.sheetOf = sheetProto(r, r.Sheet()), r
	}
	return v.sheet
}

// known is one vehicle; it is never changed, only replaced.
type known struct{ state buildwire.Packed }

func follow(ctx context.Context, builds buildv1.BuildServiceClient, logger *slog.Logger) *fleet {
	f := &fleet{vehicles: map[vehicle.Serial]*known{}, releases: build.ReleaseSet{}, places: parts.NewPlaces(nil),
		recent: map[occasion]*visit{}, stream: buildwire.NewStream(know)}
	f.Follower = feed.Follow(ctx, "parts from build",
		func(ctx context.Context) (grpc.ServerStreamingClient[buildv1.WatchBuildsResponse], error) {
			f.stream.Begin()
			return builds.WatchBuilds(ctx, &buildv1.WatchBuildsRequest{})
		}, f.apply, logger)
	return f
}

func know(_ vehicle.Serial, _ string, state buildwire.Packed) *known { return &known{state} }

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
	f.vehicles, f.releases = news.Into(f.vehicles, f.releases)
	if news.Whole || len(news.Releases) > 0 {
		f.places = parts.NewPlaces(f.releases)
		f.recent = map[occasion]*visit{}
	}
	changed := news.Vehicles
	if news.Whole {
		changed = nil
	}
	f.uses.hear(f.vehicles, changed, f.releases)
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
