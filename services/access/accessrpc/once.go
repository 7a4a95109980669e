package accessrpc

import (
	"context"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/access/accessstore"
	"halfshaft/services/internal/kv"
)

// request is what every change carries.
type request interface {
	proto.Message
	GetRequestId() string
}

// before reads the answer of a request that was answered before, with the
// revision that its etag is made from.
func (s *Service) before(ctx context.Context, r request, answer proto.Message) (revision int64, found bool, err error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return 0, false, err
	}
	done, found, err := s.store.Answered(ctx, r.GetRequestId(), r)
	if err != nil || !found {
		return 0, false, err
	}
	return done.Revision, true, proto.Unmarshal(done.Answer, answer)
}

// settled ends a change: it waits until all of this process knows of it. Of a
// request that another copy overtook it reads that one's answer.
func (s *Service) settled(ctx context.Context, done kv.Result, err error, answer proto.Message) error {
	if err != nil {
		return err
	}
	if done.Replayed {
		proto.Reset(answer)
		if err := proto.Unmarshal(done.Answer, answer); err != nil {
			return err
		}
	}
	return s.group.Wait(ctx, accessstore.Service, done.Revision)
}
