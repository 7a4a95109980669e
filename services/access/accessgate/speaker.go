package accessgate

import (
	"context"
	"net/url"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"

	"halfshaft/services/access"
	"halfshaft/services/fault"
)

// The headers, in lower case as gRPC wants them.
const (
	authorization = "authorization"
	onBehalfOf    = "halfshaft-caller"
	bearerScheme  = "Bearer "
)

// encode writes a caller for the header: role, bearer and person, escaped,
// with a space between.
func encode(c access.Caller) string {
	return c.Role.String() + " " + url.QueryEscape(c.Bearer) + " " + url.QueryEscape(c.Person)
}

// decode reads what encode wrote.
func decode(text string) (access.Caller, error) {
	parts := strings.Split(text, " ")
	if len(parts) != 3 {
		return access.Caller{}, malformed()
	}
	role, errRole := access.ParseRole(parts[0])
	bearer, errBearer := url.QueryUnescape(parts[1])
	person, errPerson := url.QueryUnescape(parts[2])
	if errRole != nil || errBearer != nil || errPerson != nil {
		return access.Caller{}, malformed()
	}
	return access.Caller{Role: role, Bearer: bearer, Person: person}, nil
}

func malformed() error {
	return fault.New(fault.Unauthenticated, "CALLER_MALFORMED", "The caller this call is made for cannot be read.")
}

// conn adds headers to every call over a connection.
type conn struct {
	grpc.ClientConnInterface
	outgoing func(context.Context) (context.Context, error)
}

// Invoke implements grpc.ClientConnInterface.
func (c conn) Invoke(ctx context.Context, method string, args, reply any, opts ...grpc.CallOption) error {
	ctx, err := c.outgoing(ctx)
	if err != nil {
		return err
	}
	return c.ClientConnInterface.Invoke(ctx, method, args, reply, opts...)
}

// NewStream implements grpc.ClientConnInterface.
func (c conn) NewStream(ctx context.Context, desc *grpc.StreamDesc, method string, opts ...grpc.CallOption) (grpc.ClientStream, error) {
	ctx, err := c.outgoing(ctx)
	if err != nil {
		return nil, err
	}
	return c.ClientConnInterface.NewStream(ctx, desc, method, opts...)
}

// Forward is a connection for services: each call carries the service's own
// key (empty over the in-process connection, which needs none) and names the
// caller that the context carries. Without one the service calls for itself,
// which is right for feeds and jobs; but in a method that runs for an
// unauthenticated stranger it would lend them the service's rights, and is
// refused.
func Forward(to grpc.ClientConnInterface, serviceSecret string) grpc.ClientConnInterface {
	return conn{to, func(ctx context.Context) (context.Context, error) {
		md := outgoing(ctx, serviceSecret)
		caller := access.CallerFrom(ctx)
		if caller.Role != access.Nobody {
			md.Set(onBehalfOf, encode(caller))
		} else if _, serving := metadata.FromIncomingContext(ctx); serving {
			return nil, fault.New(fault.Internal, "CALLER_LOST", "a service called another for a caller it does not know")
		}
		return metadata.NewOutgoingContext(ctx, md), nil
	}}
}

// Present is a connection for people and programs outside: each call carries
// their key.
func Present(to grpc.ClientConnInterface, secret string) grpc.ClientConnInterface {
	return conn{to, func(ctx context.Context) (context.Context, error) {
		return metadata.NewOutgoingContext(ctx, outgoing(ctx, secret)), nil
	}}
}

// outgoing gives the headers of the context with the key in place of whatever
// stood there.
func outgoing(ctx context.Context, secret string) metadata.MD {
	md, ok := metadata.FromOutgoingContext(ctx) // a copy
	if !ok {
		md = metadata.MD{}
	}
	delete(md, onBehalfOf)
	delete(md, authorization)
	if secret != "" {
		md.Set(authorization, bearerScheme+secret)
	}
	return md
}
