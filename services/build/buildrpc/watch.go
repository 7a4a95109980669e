package buildrpc

import (
	"cmp"
	"errors"
	"slices"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/internal/feed"
	"halfshaft/services/vehicle"
)

// topic is a thing that a watch tells of: a vehicle or a release.
type topic struct {
	serial  vehicle.Serial
	release string
}

// publish is told by the store what changed.
func (s *Service) publish(serials []vehicle.Serial, releases []string, revision int64) {
	topics := make([]topic, 0, len(serials)+len(releases))
	for _, id := range releases {
		topics = append(topics, topic{release: id})
	}
	for _, serial := range serials {
		topics = append(topics, topic{serial: serial})
	}
	s.hub.Publish(topics, revision)
}

// WatchBuilds implements the BuildService.
func (s *Service) WatchBuilds(_ *buildv1.WatchBuildsRequest, stream grpc.ServerStreamingServer[buildv1.WatchBuildsResponse]) error {
	sub := s.hub.Subscribe()
	defer sub.Close()
	revision := s.store.Revision()
	var all []topic
	for _, id := range s.store.ReleaseIDs() {
		all = append(all, topic{release: id})
	}
	for _, serial := range s.store.Serials() {
		all = append(all, topic{serial: serial})
	}
	if err := s.send(stream, all, revision); err != nil {
		return err
	}
	for {
		topics, revision, err := sub.Next(stream.Context())
		if err != nil {
			if errors.Is(err, feed.ErrClosed) {
				return nil
			}
			return err
		}
		slices.SortFunc(topics, func(a, b topic) int {
			// Releases first: a vehicle may need one that came with it.
			return cmp.Or(-cmp.Compare(a.release, b.release), cmp.Compare(a.serial, b.serial))
		})
		if err := s.send(stream, topics, revision); err != nil {
			return err
		}
	}
}

// batchBytes keeps an answer below 1 MiB: one more vehicle, however large, must
// still fit.
const batchBytes = 256 << 10

// send gives things as they are now, in batches. Only the last says which
// revision the reader has reached, and that it is up to date.
func (s *Service) send(stream grpc.ServerStreamingServer[buildv1.WatchBuildsResponse], topics []topic, revision int64) error {
	batch, bytes := &buildv1.WatchBuildsResponse{}, 0
	for _, t := range topics {
		if bytes >= batchBytes {
			if err := stream.Send(batch); err != nil {
				return err
			}
			batch, bytes = &buildv1.WatchBuildsResponse{}, 0
		}
		n, err := s.addTo(batch, t)
		if err != nil {
			return err
		}
		bytes += n
	}
	batch.Revision, batch.Synced = revision, true
	return stream.Send(batch)
}

// addTo puts a thing into a batch and gives its size. What is not there (the
// other keys of a vehicle can come before its record) is left out.
func (s *Service) addTo(batch *buildv1.WatchBuildsResponse, t topic) (int, error) {
	if t.release != "" {
		release, err := s.store.Release(t.release)
		if err != nil {
			return 0, err
		}
		batch.Releases = append(batch.Releases, release)
		return proto.Size(release), nil
	}
	state, err := s.store.State(t.serial)
	if state == nil || err != nil {
		return 0, err
	}
	batch.Builds = append(batch.Builds, state)
	return proto.Size(state), nil
}
