package bulletinrpc

import (
	"context"

	"google.golang.org/protobuf/proto"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/bulletin/bulletinwire"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle/vehiclewire"
)

// once lets act write, or gives the first answer of a request that was seen
// before. It acts first and lets the transaction find out whether the request is
// a repeated one; only after a refusal it asks, for a repeated request may be
// refused for what it did itself.
func once[A proto.Message](ctx context.Context, s *Service, id string, payload proto.Message, empty A,
	act func() (A, kv.Result, error),
) (A, kv.Result, error) {
	if err := kv.CheckRequestID(id); err != nil {
		return empty, kv.Result{}, err
	}
	answer, result, refusal := act()
	if refusal != nil {
		first, found, err := s.Store.Lookup(ctx, id, payload)
		switch {
		case err != nil:
			return empty, kv.Result{}, err
		case !found:
			return empty, kv.Result{}, kv.Conflict(refusal)
		}
		result = first
	}
	if result.Replayed {
		answer = empty
		if err := result.Read(answer); err != nil {
			return empty, kv.Result{}, err
		}
	}
	return answer, result, s.Group.Wait(ctx, bulletinstore.Service, result.Revision)
}

// versionProto writes a stored version.
func versionProto(v *bulletinstore.Version) *bulletinv1.Bulletin {
	p := bulletinwire.BulletinProto(&v.Bulletin)
	p.CreateTime = vehiclewire.MomentProto(v.Created)
	if v.Revision != 0 {
		p.Etag = kv.Etag(v.Revision)
	}
	return p
}
