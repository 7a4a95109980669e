package ownerrpc

import (
	"context"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerstore"
	"halfshaft/services/owner/ownerwire"
)

// ErasePerson implements the OwnerService. Imports wait meanwhile.
func (s *Service) ErasePerson(ctx context.Context, r *ownerv1.ErasePersonRequest) (*ownerv1.Erasure, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	if done, found, err := s.store.AnsweredPlain(ctx, r.GetRequestId(), r); err != nil || found {
		if err != nil {
			return nil, err
		}
		var e ownerv1.Erasure
		if err := proto.Unmarshal(done.Answer, &e); err != nil {
			return nil, err
		}
		return &e, s.store.Finish(ctx) // what was decided may have been interrupted
	}
	id, err := ownerwire.PersonID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	revision, err := kv.ParseEtag(r.GetEtag())
	if err != nil {
		return nil, err
	}
	if err := fault.InvalidFields(owner.CheckGround(r.GetGround())); err != nil {
		return nil, err
	}
	p, err := s.store.Person(id)
	if err != nil {
		return nil, err
	}
	if p.ModRevision != revision {
		return nil, changedMeanwhile("person", ownerwire.PersonName(id))
	}
	e := owner.Erasure{Person: id, At: s.now(), Ground: r.GetGround(), RecordedBy: access.CallerFrom(ctx).Bearer}
	resume, err := s.staging.Pause(ctx)
	if err != nil {
		return nil, err
	}
	defer resume()
	e, err = s.store.Erase(ctx, ownerstore.Erase{Erasure: e, Etag: revision, EndTies: r.GetEndTies()}, r.GetRequestId(), r)
	if err != nil {
		return nil, err
	}
	return ownerwire.ErasureProto(e), s.group.Wait(ctx, ownerstore.Service, s.store.Revision())
}

// ListErasures implements the OwnerService.
func (s *Service) ListErasures(_ context.Context, r *ownerv1.ListErasuresRequest) (*ownerv1.ListErasuresResponse, error) {
	list, next, err := pageOf(r, s.store.Erasures(), func(e owner.Erasure) string { return e.Person })
	out := &ownerv1.ListErasuresResponse{NextPageToken: next}
	for _, e := range list {
		out.Erasures = append(out.Erasures, ownerwire.ErasureProto(e))
	}
	return out, err
}
