package ownerrpc

import (
	"context"
	"fmt"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerstore"
	"halfshaft/services/owner/ownerwire"
)

// pagedRequest asks for a page of a list.
type pagedRequest interface {
	proto.Message
	GetPageSize() int32
	GetPageToken() string
}

func standingProto(n ownerstore.StandingRecord) *ownerv1.Standing {
	out := ownerwire.StandingProto(n.Standing)
	if n.ModRevision > 0 {
		out.Etag = kv.Etag(n.ModRevision)
	}
	return out
}

// GetStanding implements the OwnerService. A vehicle that nothing was recorded
// of is in use: whether it was ever built is not known here. How it is known
// what became of a vehicle may tell of whoever had it before, and is not for an
// owner.
func (s *Service) GetStanding(ctx context.Context, r *ownerv1.GetStandingRequest) (*ownerv1.Standing, error) {
	serial, err := ownerwire.StandingID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	n := s.store.Standing(serial)
	if n.ModRevision == 0 {
		n.Standing = owner.Standing{Serial: serial, State: owner.InUse}
	}
	if access.CallerFrom(ctx).Role.Limited() {
		n.Note, n.RecordedBy = "", ""
	}
	return standingProto(n), nil
}

// UpdateStanding implements the OwnerService. Without a day it is since today.
func (s *Service) UpdateStanding(ctx context.Context, r *ownerv1.UpdateStandingRequest) (*ownerv1.Standing, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	if done, found, err := s.store.AnsweredPlain(ctx, r.GetRequestId(), r); err != nil || found {
		return answeredStanding(done, err)
	}
	serial, err := ownerwire.StandingID("standing.name", r.GetStanding().GetName())
	if err != nil {
		return nil, err
	}
	old := s.store.Standing(serial)
	var revision int64
	if etag := r.GetStanding().GetEtag(); etag != "" {
		if revision, err = kv.ParseEtag(etag); err != nil {
			return nil, fault.Under("standing", err)
		}
	}
	if revision != old.ModRevision {
		return nil, changedMeanwhile("standing", ownerwire.StandingName(serial))
	}
	n, faults := ownerwire.Standing(r.GetStanding())
	n.Serial, n.RecordedBy, n.Updated = serial, access.CallerFrom(ctx).Bearer, s.now()
	if n.Since.IsZero() {
		n.Since = s.today()
	}
	if err := fault.InvalidFields(fault.FieldsUnder("standing", append(faults, n.Faults(s.today())...))); err != nil {
		return nil, err
	}
	if n.State == owner.OwnerUnknown {
		ties, _ := s.store.Ties(serial)
		for _, t := range ties {
			if t.Role == owner.Owner && t.Lasts(s.today()) {
				return nil, &fault.Error{
					Kind: fault.FailedPrecondition, Reason: "OWNER_PRESENT",
					Message: fmt.Sprintf("%s has an owner since %s: record a transfer to somebody unknown, or end that tie first.", serial, t.Start),
					Meta:    map[string]string{"record": ownerwire.TieName(serial, t.ID)},
				}
			}
		}
	}
	done, err := s.store.PutStanding(ctx, n, revision, r.GetRequestId(), r)
	if err != nil || done.Replayed {
		return answeredStanding(done, err)
	}
	return standingProto(ownerstore.StandingRecord{Standing: n, ModRevision: done.Revision}), s.group.Wait(ctx, ownerstore.Service, done.Revision)
}

func answeredStanding(done kv.Result, err error) (*ownerv1.Standing, error) {
	if err != nil {
		return nil, err
	}
	var n ownerv1.Standing
	if err := proto.Unmarshal(done.Answer, &n); err != nil {
		return nil, err
	}
	n.Etag = kv.Etag(done.Revision)
	return &n, nil
}

// ListStandings implements the OwnerService.
func (s *Service) ListStandings(_ context.Context, r *ownerv1.ListStandingsRequest) (*ownerv1.ListStandingsResponse, error) {
	list, next, err := pageOf(r, s.store.Standings(), func(n ownerstore.StandingRecord) string { return string(n.Serial) })
	out := &ownerv1.ListStandingsResponse{NextPageToken: next}
	for _, n := range list {
		out.Standings = append(out.Standings, standingProto(n))
	}
	return out, err
}
