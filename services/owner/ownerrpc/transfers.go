package ownerrpc

import (
	"context"
	"crypto/rand"
	"strings"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/resname"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerstore"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/vehicle"
)

// toldOf gives a transfer as the caller may read it: an owner is not told of
// another person.
func toldOf(ctx context.Context, t *ownerv1.Transfer, err error) (*ownerv1.Transfer, error) {
	if caller := access.CallerFrom(ctx); err == nil && caller.Role.Limited() && t.GetOfferedBy() != caller.Person {
		t.OfferedBy = ""
	}
	return t, err
}

// transferProto writes a transfer as it reads now.
func (s *Service) transferProto(t owner.Transfer, revision int64) *ownerv1.Transfer {
	out := ownerwire.TransferProto(t.AsOf(s.now()))
	out.Etag = kv.Etag(revision)
	return out
}

func (s *Service) answeredTransfer(done kv.Result, err error) (*ownerv1.Transfer, error) {
	if err != nil {
		return nil, err
	}
	var t ownerv1.Transfer
	if err := proto.Unmarshal(done.Answer, &t); err != nil {
		return nil, err
	}
	t.Etag = kv.Etag(done.Revision)
	return &t, nil
}

// OfferTransfer implements the OwnerService.
func (s *Service) OfferTransfer(ctx context.Context, r *ownerv1.OfferTransferRequest) (*ownerv1.OfferTransferResponse, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	if done, found, err := s.store.AnsweredPlain(ctx, r.GetRequestId(), r); err != nil || found {
		t, err := s.answeredTransfer(done, err)
		return &ownerv1.OfferTransferResponse{Transfer: t}, err
	}
	serial, _, err := resname.Serial("parent", vehicleForm, r.GetParent())
	if err != nil {
		return nil, err
	}
	person, err := ownerwire.PersonID("offered_by", r.GetOfferedBy())
	if err != nil {
		return nil, err
	}
	ties, guard := s.store.Ties(serial)
	if !owner.Holds(bare(ties), person, s.today()) {
		return nil, notTheirs(serial)
	}
	code, err := owner.NewCode(rand.Reader)
	if err != nil {
		return nil, err
	}
	plain, _ := owner.PlainCode(code)
	now := s.now()
	t := owner.Transfer{
		Serial: serial, ID: kv.NewID(), State: owner.Offered, OfferedBy: person, Created: now, Expires: now.Add(owner.OfferLasts),
		RecordedBy: access.CallerFrom(ctx).Bearer,
	}
	done, err := s.store.OfferTransfer(ctx, t, plain, guard, r.GetRequestId(), r)
	if err != nil || done.Replayed {
		t, err := s.answeredTransfer(done, err)
		return &ownerv1.OfferTransferResponse{Transfer: t}, err
	}
	return &ownerv1.OfferTransferResponse{Transfer: s.transferProto(t, done.Revision), Code: code}, s.group.Wait(ctx, ownerstore.Service, done.Revision)
}

func notTheirs(serial vehicle.Serial) error {
	return fault.New(fault.FailedPrecondition, "NOT_THE_OWNER", "Only who owns %s today, or acts for the estate of its owner, can give it into other hands.", serial)
}

// CancelTransfer implements the OwnerService. An owner may call an offer off
// while the vehicle is theirs.
func (s *Service) CancelTransfer(ctx context.Context, r *ownerv1.CancelTransferRequest) (*ownerv1.Transfer, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	if done, found, err := s.store.AnsweredPlain(ctx, r.GetRequestId(), r); err != nil || found {
		t, err := s.answeredTransfer(done, err)
		return toldOf(ctx, t, err)
	}
	serial, id, err := ownerwire.TransferID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	old, ok := s.store.Transfer(serial, id)
	if !ok {
		return nil, fault.New(fault.NotFound, "TRANSFER_NOT_FOUND", "There is no transfer %s of the vehicle %s here.", id, serial)
	}
	if caller := access.CallerFrom(ctx); caller.Role.Limited() {
		ties, _ := s.store.Ties(serial)
		if !owner.Holds(bare(ties), strings.TrimPrefix(caller.Person, "people/"), s.today()) {
			return nil, notTheirs(serial)
		}
	}
	if r.GetEtag() != "" {
		revision, err := kv.ParseEtag(r.GetEtag())
		if err != nil {
			return nil, err
		}
		if revision != old.ModRevision {
			return nil, changedMeanwhile("transfer", ownerwire.TransferName(serial, id))
		}
	}
	closed, err := old.Closed(s.now())
	if err != nil {
		return nil, err
	}
	done, err := s.store.CloseTransfer(ctx, closed, old.ModRevision, r.GetRequestId(), r)
	if err != nil || done.Replayed {
		t, err := s.answeredTransfer(done, err)
		return toldOf(ctx, t, err)
	}
	return toldOf(ctx, s.transferProto(closed, done.Revision), s.group.Wait(ctx, ownerstore.Service, done.Revision))
}

// ListTransfers implements the OwnerService.
func (s *Service) ListTransfers(_ context.Context, r *ownerv1.ListTransfersRequest) (*ownerv1.ListTransfersResponse, error) {
	serials := s.store.TransferSerials()
	if r.GetParent() != allVehicles {
		serial, _, err := resname.Serial("parent", vehicleForm, r.GetParent())
		if err != nil {
			return nil, err
		}
		serials = []vehicle.Serial{serial}
	}
	var all []ownerstore.TransferRecord
	for _, serial := range serials {
		all = append(all, s.store.Transfers(serial)...)
	}
	list, next, err := pageOf(r, all, func(t ownerstore.TransferRecord) string { return string(t.Serial) + "/" + t.ID })
	out := &ownerv1.ListTransfersResponse{NextPageToken: next}
	for _, t := range list {
		out.Transfers = append(out.Transfers, s.transferProto(t.Transfer, t.ModRevision))
	}
	return out, err
}
