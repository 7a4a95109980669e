package accessrpc

import (
	"google.golang.org/grpc"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accesswire"
)

// batch is how many keys one message of a watch carries: some 100 KB.
const batch = 500

// WatchKeys implements the AccessService.
func (s *Service) WatchKeys(_ *accessv1.WatchKeysRequest, stream grpc.ServerStreamingServer[accessv1.WatchKeysResponse]) error {
	sub := s.store.Subscribe()
	defer sub.Close()
	revision := s.store.Revision() // before the first read: what is read includes it
	if err := s.send(stream, s.store.IDs(), revision); err != nil {
		return err
	}
	for {
		ids, revision, err := sub.Next(stream.Context())
		if err != nil {
			return err
		}
		if err := s.send(stream, ids, revision); err != nil {
			return err
		}
	}
}

// send sends the keys of those identifiers as they are now; the last message,
// perhaps of none, carries the revision.
func (s *Service) send(stream grpc.ServerStreamingServer[accessv1.WatchKeysResponse], ids []string, revision int64) error {
	for {
		n := min(len(ids), batch)
		out := &accessv1.WatchKeysResponse{}
		for _, id := range ids[:n] {
			if k, ok := s.store.Get(id); ok {
				out.Keys = append(out.Keys, accesswire.KeyWithDigest(k.Key))
			}
		}
		ids = ids[n:]
		last := len(ids) == 0
		if last {
			out.Revision, out.Synced = revision, true
		}
		if err := stream.Send(out); err != nil {
			return err
		}
		if last {
			return nil
		}
	}
}
