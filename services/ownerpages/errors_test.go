package ownerpages_test

import (
	"context"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"halfshaft/services/ownerpages"
)

// status503 is a service that is out of reach.
var status503 = status.Error(codes.Unavailable, "out of reach")

// strangerAtTheServices makes every call in the name of somebody to whom the
// vehicle does not belong, whoever pressed the link.
func strangerAtTheServices(c *ownerpages.Config) {
	c.AsOwner = func(ctx context.Context, _ string) context.Context {
		return context.WithValue(ctx, asked{}, "p0050")
	}
}
