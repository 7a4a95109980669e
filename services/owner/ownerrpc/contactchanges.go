package ownerrpc

import (
	"context"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/owner/ownerwire"
)

// ListContactChanges implements the OwnerService.
func (s *Service) ListContactChanges(_ context.Context, r *ownerv1.ListContactChangesRequest) (*ownerv1.ListContactChangesResponse, error) {
	if r.GetParent() != "people/-" {
		return nil, fault.InvalidField("parent", r.GetParent(), "people/-")
	}
	size, err := page.Size(r.GetPageSize(), usualPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	found, err := s.store.ContactChanges(after, size+1)
	if err != nil {
		return nil, err
	}
	out := &ownerv1.ListContactChangesResponse{}
	out.ContactChanges, out.NextPageToken = page.Cut(r, found, size, (*ownerv1.ContactChange).GetName)
	return out, nil
}

// DeleteContactChange implements the OwnerService.
func (s *Service) DeleteContactChange(ctx context.Context, r *ownerv1.DeleteContactChangeRequest) (*ownerv1.DeleteContactChangeResponse, error) {
	person, id, err := ownerwire.ContactChangeID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	revision, err := s.store.DropContactChange(ctx, person, id)
	if err == nil && revision == 0 {
		return &ownerv1.DeleteContactChangeResponse{}, nil
	}
	return &ownerv1.DeleteContactChangeResponse{}, s.seen(ctx, revision, err, func() {})
}
