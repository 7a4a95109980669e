package accessrpc

import (
	"context"

	"google.golang.org/grpc"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/internal/feed"
)

// batch is how many records one message of a watch carries: some 100 KB.
const batch = 500

// watch tells of all records, and then of those that change, until the caller
// goes. all gives the names of those there are, and send sends what goes by
// some names as it is now: at most a batch of them, with the revision when they
// are the last.
func (s *Service) watch(ctx context.Context, sub *feed.Subscription[string], all func() []string, send func(names []string, revision int64, last bool) error) error {
	defer sub.Close()
	revision := s.store.Revision() // before the first read: what is read includes it
	names := all()
	for {
		if err := inBatches(names, func(part []string, last bool) error { return send(part, revision, last) }); err != nil {
			return err
		}
		var err error
		if names, revision, err = sub.Next(ctx); err != nil {
			return err
		}
	}
}

// inBatches parts names; the last part may be empty.
func inBatches(names []string, send func(part []string, last bool) error) error {
	for ; len(names) > batch; names = names[batch:] {
		if err := send(names[:batch], false); err != nil {
			return err
		}
	}
	return send(names, true)
}

// WatchKeys implements the AccessService.
func (s *Service) WatchKeys(_ *accessv1.WatchKeysRequest, stream grpc.ServerStreamingServer[accessv1.WatchKeysResponse]) error {
	return s.watch(stream.Context(), s.store.Subscribe(), s.store.IDs, func(ids []string, revision int64, last bool) error {
		out := &accessv1.WatchKeysResponse{}
		for _, id := range ids {
			if k, ok := s.store.Get(id); ok {
				out.Keys = append(out.Keys, accesswire.KeyWithDigest(k.Key))
			}
		}
		if last {
			out.Revision, out.Synced = revision, true
		}
		return stream.Send(out)
	})
}
