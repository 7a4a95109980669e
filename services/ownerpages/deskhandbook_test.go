package ownerpages_test

import (
	"context"

	"google.golang.org/grpc"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
)

// handbooks is the handbook service as its client sees it, as in desk_test.go.
type (
	handbooks struct {
		*desk
		otherHandbooks
	}
	otherHandbooks struct {
		handbookv1.HandbookServiceClient
	}
)

func (d *desk) ListHandbookIssues(ctx context.Context, r *handbookv1.ListHandbookIssuesRequest, _ ...grpc.CallOption) (*handbookv1.ListHandbookIssuesResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	if r.GetParent() != theVehicle {
		return nil, notFound()
	}
	return &handbookv1.ListHandbookIssuesResponse{HandbookIssues: d.issues}, nil
}
