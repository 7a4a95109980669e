package buildwire

import (
	"fmt"
	"maps"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// Stream puts together what WatchBuilds sends. K is what a follower keeps of a
// vehicle. It is for the follower's goroutine only.
type Stream[K any] struct {
	keep  func(serial vehicle.Serial, etag string, state Packed) K
	begun bool
	whole *News[K] // nil once the stream has caught up
}

// NewStream makes a stream that keeps what keep gives of each vehicle, made of
// its serial, the etag of its record and its state.
func NewStream[K any](keep func(serial vehicle.Serial, etag string, state Packed) K) *Stream[K] {
	return &Stream[K]{keep: keep}
}

// News are vehicles and releases that are new or changed.
type News[K any] struct {
	Vehicles map[vehicle.Serial]K
	Releases build.ReleaseSet
	Whole    bool // they are all that there are: what is not among them is gone
}

// Begin says that the stream is opened, for the first time or again.
func (s *Stream[K]) Begin() { s.begun = false }

// Take reads one answer. News are nil until all have come with which a stream
// begins; those are given as a whole. reset tells of the first answer of a
// stream.
func (s *Stream[K]) Take(resp *buildv1.WatchBuildsResponse) (news *News[K], reset bool, err error) {
	if !s.begun {
		s.begun, reset = true, true
		s.whole = &News[K]{Vehicles: map[vehicle.Serial]K{}, Releases: build.ReleaseSet{}, Whole: true}
	}
	if news, err = s.read(resp); err != nil {
		return nil, reset, err
	}
	if s.whole == nil {
		return news, reset, nil
	}
	maps.Copy(s.whole.Vehicles, news.Vehicles)
	maps.Copy(s.whole.Releases, news.Releases)
	if !resp.GetSynced() {
		return nil, reset, nil
	}
	news, s.whole = s.whole, nil
	return news, reset, nil
}

func (s *Stream[K]) read(resp *buildv1.WatchBuildsResponse) (*News[K], error) {
	news := &News[K]{Vehicles: map[vehicle.Serial]K{}, Releases: build.ReleaseSet{}}
	for _, m := range resp.GetReleases() {
		r, err := Release(m)
		if err != nil {
			return nil, fmt.Errorf("read release %s: %w", m.GetName(), err)
		}
		news.Releases[r.ID] = &r
	}
	for _, m := range resp.GetBuilds() {
		serial, state, err := Pack(m)
		if err != nil {
			return nil, err
		}
		news.Vehicles[serial] = s.keep(serial, m.GetBuild().GetEtag(), state)
	}
	return news, nil
}

// Into gives the vehicles and releases that there are now. The set of releases
// is replaced where one is new and never changed, so that whoever holds it may
// go on reading; vehicles are written to.
func (n *News[K]) Into(vehicles map[vehicle.Serial]K, releases build.ReleaseSet) (map[vehicle.Serial]K, build.ReleaseSet) {
	if n.Whole {
		return n.Vehicles, n.Releases
	}
	maps.Copy(vehicles, n.Vehicles)
	if len(n.Releases) > 0 {
		releases = maps.Clone(releases)
		maps.Copy(releases, n.Releases)
	}
	return vehicles, releases
}
