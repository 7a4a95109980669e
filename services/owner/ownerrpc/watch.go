package ownerrpc

import (
	"google.golang.org/grpc"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/vehicle"
)

// batch is about how many ties and standings one message of a watch carries: some 100 KB.
const batch = 1000

// WatchTies implements the OwnerService.
func (s *Service) WatchTies(_ *ownerv1.WatchTiesRequest, stream grpc.ServerStreamingServer[ownerv1.WatchTiesResponse]) error {
	sub := s.store.Subscribe()
	defer sub.Close()
	revision := s.store.Revision() // before the first read: what is read includes it
	if err := s.send(stream, s.store.TiedOrStanding(), revision); err != nil {
		return err
	}
	for {
		serials, revision, err := sub.Next(stream.Context())
		if err != nil {
			return err
		}
		if err := s.send(stream, serials, revision); err != nil {
			return err
		}
	}
}

// send sends all ties and the standing of those vehicles as they are now; the
// last message, perhaps of none, carries the revision.
func (s *Service) send(stream grpc.ServerStreamingServer[ownerv1.WatchTiesResponse], serials []vehicle.Serial, revision int64) error {
	out := &ownerv1.WatchTiesResponse{}
	for _, serial := range serials {
		list, _ := s.store.Ties(serial)
		for _, t := range list {
			out.Ties = append(out.Ties, tieWithEtag(ownerwire.TieProto(t.Tie), t.ModRevision))
		}
		if n := s.store.Standing(serial); n.ModRevision > 0 {
			out.Standings = append(out.Standings, standingProto(n))
		}
		if len(out.Ties)+len(out.Standings) >= batch {
			if err := stream.Send(out); err != nil {
				return err
			}
			out = &ownerv1.WatchTiesResponse{}
		}
	}
	out.Revision, out.Synced = revision, true
	return stream.Send(out)
}
