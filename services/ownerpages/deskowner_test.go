package ownerpages_test

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
)

func (d *desk) StoreDocument(ctx context.Context, r *ownerv1.StoreDocumentRequest, _ ...grpc.CallOption) (*ownerv1.Document, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*ownerv1.Document, error) {
		d.documents = append(d.documents, r)
		return &ownerv1.Document{Name: fmt.Sprintf("%s/documents/%d", r.GetParent(), len(d.documents))}, nil
	})
}

func (d *desk) OfferTransfer(ctx context.Context, r *ownerv1.OfferTransferRequest, _ ...grpc.CallOption) (*ownerv1.OfferTransferResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	_, again := d.requests[r.GetRequestId()]
	offer, err := once(d, r, func() (*ownerv1.Transfer, error) {
		offer := &ownerv1.Transfer{
			Name: fmt.Sprintf("%s/transfers/%d", theVehicle, len(d.offers)), State: ownerv1.TransferState_TRANSFER_STATE_OFFERED,
			OfferedBy: r.GetOfferedBy(), ExpireTime: timestamppb.New(d.now.Add(14 * 24 * time.Hour)),
		}
		d.offers = append(d.offers, offer)
		return offer, nil
	})
	if err != nil {
		return nil, err
	}
	out := &ownerv1.OfferTransferResponse{Transfer: offer, Code: d.code}
	if again {
		out.Code = ""
	}
	return out, nil
}

func (d *desk) CancelTransfer(ctx context.Context, r *ownerv1.CancelTransferRequest, _ ...grpc.CallOption) (*ownerv1.Transfer, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*ownerv1.Transfer, error) {
		for _, offer := range d.offers {
			if offer.GetName() == r.GetName() {
				if offer.GetState() != ownerv1.TransferState_TRANSFER_STATE_OFFERED {
					return nil, status.Error(codes.FailedPrecondition, "it is over")
				}
				offer.State = ownerv1.TransferState_TRANSFER_STATE_CALLED_OFF
				return offer, nil
			}
		}
		return nil, notFound()
	})
}

func (d *desk) AcceptTransfer(ctx context.Context, r *ownerv1.AcceptTransferRequest, _ ...grpc.CallOption) (*ownerv1.AcceptTransferResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.pages(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*ownerv1.AcceptTransferResponse, error) {
		if r.GetParent() != theVehicle || r.GetCode() != d.code {
			return nil, notFound()
		}
		d.accepted = append(d.accepted, r)
		d.owner = "p0077"
		return &ownerv1.AcceptTransferResponse{Tie: &ownerv1.Tie{Person: "people/p0077"}}, nil
	})
}
