package bulletinrpc

import (
	"context"
	"errors"

	"google.golang.org/protobuf/proto"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/bulletin/bulletinwire"
	"halfshaft/services/fault"
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
			return empty, kv.Result{}, conflict(refusal)
		}
		result = first
	}
	if result.Replayed {
		answer = empty
		if err := proto.Unmarshal(result.Answer, answer); err != nil {
			return empty, kv.Result{}, &fault.Error{Kind: fault.Internal, Reason: "RECORD_DAMAGED", Message: "an answer cannot be read", Cause: err}
		}
	}
	return answer, result, s.Group.Wait(ctx, bulletinstore.Service, result.Revision)
}

// conflict says of a record that changed under a caller what an etag that does
// not match says.
func conflict(err error) error {
	var f *fault.Error
	if errors.As(err, &f) && f.Reason == "CONFLICT" {
		return changed()
	}
	return err
}

func changed() error {
	return fault.New(fault.Aborted, "ETAG_MISMATCH", "The record changed since it was read: read it again.")
}

// matches checks an etag against the revision that the record was read at.
func matches(field, etag string, stored int64) error {
	revision, err := kv.ParseEtag(etag)
	if err != nil {
		f := fault.FieldsOf("", err)[0]
		return fault.InvalidField(field, f.Got, f.Want)
	}
	if revision != stored {
		return changed()
	}
	return nil
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
