package bulletinjob

import (
	"context"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"sync/atomic"

	"google.golang.org/grpc"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/bulletin"
	"halfshaft/services/internal/feed"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// fleet is what the build service says of every vehicle, as far as sets ask: a
// write to it waits for this follower, so that a caller who records a change and
// asks next is answered by it.
type fleet struct {
	*feed.Follower
	news func() // told after each change, never blocks

	mu         sync.RWMutex
	vehicles   map[vehicle.Serial]*known
	releases   build.ReleaseSet // replaced when a release comes
	generation int64            // grows with every change

	making sync.Mutex // held by whoever makes the fleet of a day
	made   atomic.Pointer[day]

	stream *buildwire.Stream[*known] // touched by the follower's goroutine only
}

// known is one vehicle, and what was last worked out of it. A change makes
// another known.
type known struct {
	state buildwire.Packed
	last  atomic.Pointer[dated]
}

// dated is a vehicle as it stands on a day.
type dated struct {
	on       vehicle.Date
	releases *build.Release // of the record, to notice when it is replaced
	vehicle  bulletin.Vehicle
}

// day is the fleet of a day, with what it was made of.
type day struct {
	on               vehicle.Date
	generation, uses int64
	fleet            *bulletin.Fleet
	refusals         map[vehicle.Serial]error // of vehicles that cannot be told, and are not in it
}

func followBuilds(ctx context.Context, builds buildv1.BuildServiceClient, news func(), logger *slog.Logger) *fleet {
	f := &fleet{vehicles: map[vehicle.Serial]*known{}, releases: build.ReleaseSet{}, news: news, stream: buildwire.NewStream(know)}
	f.Follower = feed.Follow(ctx, "bulletin from build",
		func(ctx context.Context) (grpc.ServerStreamingClient[buildv1.WatchBuildsResponse], error) {
			f.stream.Begin()
			return builds.WatchBuilds(ctx, &buildv1.WatchBuildsRequest{})
		}, f.apply, logger)
	return f
}

func know(_ vehicle.Serial, _ string, state buildwire.Packed) *known { return &known{state: state} }

// apply takes in one answer of the stream.
func (f *fleet) apply(resp *buildv1.WatchBuildsResponse) (revision int64, synced, reset bool, err error) {
	news, reset, err := f.stream.Take(resp)
	if err != nil {
		return 0, false, reset, err
	}
	if news == nil {
		return resp.GetRevision(), false, reset, nil
	}
	f.take(news)
	if len(news.Vehicles)+len(news.Releases) > 0 || reset {
		f.news()
	}
	return resp.GetRevision(), true, reset, nil
}

// take makes news count.
func (f *fleet) take(news *buildwire.News[*known]) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.generation++
	f.vehicles, f.releases = news.Into(f.vehicles, f.releases)
}

// find gives what is known of a vehicle; nil when there is none of the serial.
func (f *fleet) find(serial vehicle.Serial) *known {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return f.vehicles[serial]
}

// serials gives all vehicles, sorted.
func (f *fleet) serials() []vehicle.Serial {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return slices.Sorted(maps.Keys(f.vehicles))
}

// on gives the fleet of a day, with how its vehicles are used. It is made anew
// only when something of it changed.
func (f *fleet) on(on vehicle.Date, u *uses) *day {
	if d := f.made.Load(); d.holds(on, f.now(), u.now()) {
		return d
	}
	f.making.Lock()
	defer f.making.Unlock()
	f.mu.RLock()
	vehicles, releases, generation := maps.Clone(f.vehicles), f.releases, f.generation
	f.mu.RUnlock()
	if d := f.made.Load(); d.holds(on, generation, u.now()) {
		return d
	}
	facts, of := u.all()
	d := &day{on: on, generation: generation, uses: of, refusals: map[vehicle.Serial]error{}}
	all := make([]bulletin.Vehicle, 0, len(vehicles))
	for serial, k := range vehicles {
		v, err := k.on(on, releases)
		if err != nil {
			d.refusals[serial] = err
			continue
		}
		v.Uses = facts[serial]
		all = append(all, v)
	}
	d.fleet = bulletin.NewFleet(all, on)
	f.made.Store(d)
	return d
}

func (d *day) holds(on vehicle.Date, generation, uses int64) bool {
	return d != nil && d.on == on && d.generation == generation && d.uses == uses
}

func (f *fleet) now() int64 {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return f.generation
}

// refusal gives the error of a vehicle that cannot be told: a list without it
// would lack what nobody knows.
func (d *day) refusal() error {
	if len(d.refusals) == 0 {
		return nil
	}
	return d.refusals[slices.Min(slices.Collect(maps.Keys(d.refusals)))]
}

// on works out how the vehicle stands on a day.
func (k *known) on(on vehicle.Date, releases build.ReleaseSet) (bulletin.Vehicle, error) {
	if d := k.last.Load(); d != nil && d.on == on && releases[d.vehicle.BuiltRelease] == d.releases {
		return d.vehicle, nil
	}
	rec, changes, err := k.state.Read()
	if err != nil {
		return bulletin.Vehicle{}, err
	}
	v, err := bulletin.VehicleOf(rec, changes, releases, on)
	if err != nil {
		return bulletin.Vehicle{}, err
	}
	k.last.Store(&dated{on, releases[v.BuiltRelease], v})
	return v, nil
}

// uses is how vehicles are used, as far as it was asked for.
type uses struct {
	mu         sync.RWMutex
	facts      map[vehicle.Serial][]schedule.UseFact // replaced
	generation int64
}

func (u *uses) now() int64 {
	u.mu.RLock()
	defer u.mu.RUnlock()
	return u.generation
}

// all gives what is known; not to be changed.
func (u *uses) all() (map[vehicle.Serial][]schedule.UseFact, int64) {
	u.mu.RLock()
	defer u.mu.RUnlock()
	return u.facts, u.generation
}

// learn takes in how vehicles are used, and counts it only when it is new.
func (u *uses) learn(news map[vehicle.Serial][]schedule.UseFact) {
	u.mu.Lock()
	defer u.mu.Unlock()
	fresh := maps.Clone(u.facts)
	if fresh == nil {
		fresh = map[vehicle.Serial][]schedule.UseFact{}
	}
	changed := false
	for serial, facts := range news {
		if !slices.Equal(fresh[serial], facts) {
			fresh[serial], changed = facts, true
		}
	}
	if changed {
		u.facts, u.generation = fresh, u.generation+1
	}
}
