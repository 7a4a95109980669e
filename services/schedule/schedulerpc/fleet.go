package schedulerpc

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
	"halfshaft/services/drivetrain"
	"halfshaft/services/internal/feed"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// fleet is what the build service says of every vehicle, as far as schedules
// ask.
type fleet struct {
	*feed.Follower

	mu       sync.RWMutex
	vehicles map[vehicle.Serial]*known
	serials  []vehicle.Serial // in order; made anew when vehicles come or go
	releases build.ReleaseSet // replaced when a release comes

	stream *buildwire.Stream[*known] // touched by the follower's goroutine only
}

// known is one vehicle, and what was last worked out of it. A change makes
// another known.
type known struct {
	serial vehicle.Serial
	etag   string // of the record
	state  buildwire.Packed
	last   atomic.Pointer[standing]
}

// standing is a vehicle as it stood during some days, without what is only
// needed to find out which items apply: that is large, and found out once.
type standing struct {
	release     string         // of the record
	releases    *build.Release // what that was, to notice when releases are replaced
	from, until vehicle.Date   // the first day, and the first day of another standing; zero for none
	delivered   vehicle.Date
	programme   string // identifier
	segments    []schedule.Segment
	altered     []alteration
	moved       bool // whether a unit stands on it that was moved there: its schedule rests on other histories too

	setup atomic.Pointer[setup] // nil once fits are known
	fits  atomic.Pointer[fitted]
}

// setup is what predicates and first limits ask about.
type setup struct {
	seen       vehicle.Makeup
	components []schedule.Component
}

// fitted is which items of a plan apply to a standing.
type fitted struct {
	plan *schedule.Plan
	fits []schedule.Fit
}

func follow(ctx context.Context, builds buildv1.BuildServiceClient, logger *slog.Logger) *fleet {
	f := &fleet{vehicles: map[vehicle.Serial]*known{}, releases: build.ReleaseSet{}, stream: buildwire.NewStream(know)}
	f.Follower = feed.Follow(ctx, "schedule from build",
		func(ctx context.Context) (grpc.ServerStreamingClient[buildv1.WatchBuildsResponse], error) {
			f.stream.Begin()
			return builds.WatchBuilds(ctx, &buildv1.WatchBuildsRequest{})
		}, f.apply, logger)
	return f
}

func know(serial vehicle.Serial, etag string, state buildwire.Packed) *known {
	return &known{serial: serial, etag: etag, state: state}
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
	f.vehicles, f.releases = news.Into(f.vehicles, f.releases)
	if news.Whole || len(f.vehicles) != len(f.serials) {
		f.serials = slices.Sorted(maps.Keys(f.vehicles))
	}
	return resp.GetRevision(), true, reset, nil
}

// find gives what is known of a vehicle; nil when there is none of the serial.
func (f *fleet) find(serial vehicle.Serial) *known {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return f.vehicles[serial]
}

// all gives the serials in order; not to be changed.
func (f *fleet) all() []vehicle.Serial {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return f.serials
}

// specified gives the releases; not to be changed.
func (f *fleet) specified() build.ReleaseSet {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return f.releases
}

// standing gives how a vehicle stood on a day. The error is that of
// build.Configure: its release is not known.
func (f *fleet) standing(k *known, on vehicle.Date) (*standing, error) {
	f.mu.RLock()
	releases := f.releases
	f.mu.RUnlock()
	if s := k.last.Load(); s != nil && !on.Before(s.from) && (s.until.IsZero() || on.Before(s.until)) &&
		releases[s.release] == s.releases {
		return s, nil
	}
	s, err := work(k.state, releases, on)
	if err == nil {
		k.last.Store(s)
	}
	return s, err
}

// work works a standing out of a vehicle's record and changes.
func work(state buildwire.Packed, releases build.ReleaseSet, on vehicle.Date) (*standing, error) {
	rec, changes, err := state.Read()
	if err != nil {
		return nil, err
	}
	if on.Before(rec.Built) {
		on = rec.Built
	}
	conf, err := build.Configure(rec, changes, releases, on)
	if err != nil {
		return nil, err
	}
	life, err := build.TimelineOf(rec, changes, releases)
	if err != nil {
		return nil, err
	}
	s := &standing{
		release: rec.Release, releases: releases[rec.Release], delivered: rec.Delivered,
		programme: conf.Programme, segments: segmentsOf(&life), altered: alterationsOf(&life),
	}
	s.moved = movedHere(&conf, changes)
	s.days(&rec, changes, on)
	s.setup.Store(setupOf(&conf))
	return s, nil
}

// dials gives what the distances of a vehicle rest on, by the changes before a
// day.
func (f *fleet) dials(k *known, end vehicle.Date) (delivered vehicle.Date, segments []schedule.Segment, err error) {
	f.mu.RLock()
	releases := f.releases
	f.mu.RUnlock()
	rec, changes, err := k.state.Read()
	if err != nil {
		return vehicle.Date{}, nil, err
	}
	changes = slices.DeleteFunc(changes, func(c build.Change) bool { return !c.Date.Before(end) })
	life, err := build.TimelineOf(rec, changes, releases)
	if err != nil {
		return vehicle.Date{}, nil, err
	}
	return rec.Delivered, segmentsOf(&life), nil
}

// days finds during which days the vehicle stood so.
func (s *standing) days(rec *build.Record, changes []build.Change, on vehicle.Date) {
	for _, c := range changes {
		if c.Date.After(on) {
			if s.until.IsZero() || c.Date.Before(s.until) {
				s.until = c.Date
			}
		} else if c.Date.After(s.from) {
			s.from = c.Date
		}
	}
	if s.from.Before(rec.Built) {
		s.from = rec.Built
	}
}

func setupOf(conf *build.Configuration) *setup {
	s := &setup{
		seen: vehicle.Makeup{
			Release: conf.Release, Options: conf.Options, Wheelbase: conf.Wheelbase, Market: conf.Market,
			AxleRatio: conf.Drive.AxleRatio.Float64(), SpeedometerDrive: conf.Drive.Gears(), TyreSize: conf.Tyre.Size,
			Fitted: make(map[string][]string, len(conf.Fitted)),
		},
		components: make([]schedule.Component, len(conf.Fitted)),
	}
	for i := range conf.Fitted {
		c := &conf.Fitted[i].Component
		s.seen.Fitted[c.Position] = c.Traits
		prior, err := c.Prior.Distance()
		if err != nil {
			prior = 0 // nothing entered: new
		}
		s.components[i] = schedule.Component{Position: c.Position, Fitted: c.Fitted, Bedding: c.BeddingStart(), Prior: prior}
		if why, assumed := conf.Fitted[i].Assumption(); assumed {
			kept := why // so that the others, which are nearly all, take no memory
			s.components[i].Assumed = &kept
		}
	}
	return s
}

// setup gives what a standing dropped, worked out anew where it has to be.
func (f *fleet) setup(k *known, s *standing) (*setup, error) {
	if have := s.setup.Load(); have != nil {
		return have, nil
	}
	f.mu.RLock()
	releases := f.releases
	f.mu.RUnlock()
	again, err := work(k.state, releases, s.from)
	if err != nil {
		return nil, err
	}
	return again.setup.Load(), nil
}

// segmentsOf gives each stretch of the odometer its factor. A drive line that
// is not known well enough counts as true.
func segmentsOf(life *build.Timeline) []schedule.Segment {
	out := make([]schedule.Segment, len(life.Segments))
	for i := range life.Segments {
		seg := &life.Segments[i]
		out[i] = schedule.Segment{
			From: seg.From, Dial: seg.Dial, FactorPPM: schedule.Unity, Start: seg.Start, End: seg.End, NewDial: seg.NewDial,
		}
		if !seg.Dial.Unit.Valid() {
			out[i].Dial.Unit = vehicle.Miles
			if seg.Start.Unit.Valid() {
				out[i].Dial.Unit = seg.Start.Unit
			}
		}
		if c, err := drivetrain.RollingCircumference(seg.Tyre); err == nil {
			if ppm, err := drivetrain.OdometerFactor(c, seg.Drive, seg.Dial); err == nil {
				out[i].FactorPPM = ppm
			}
		}
	}
	return out
}
