package accessgate

import (
	"context"
	"net/url"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"

	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
)

// The headers, in lower case as gRPC wants them.
const (
	authorization = "authorization"
	onBehalfOf    = "halfshaft-caller"
	bearerScheme  = "Bearer "
)

// encode writes a caller for the header: role, bearer, person, organisation,
// account and credential, escaped, with a space between.
func encode(c access.Caller) string {
	parts := [...]string{c.Role.String(), c.Bearer, c.Person, c.Organisation, c.Account, c.Credential}
	for i, p := range parts[1:] {
		parts[i+1] = url.QueryEscape(p)
	}
	return strings.Join(parts[:], " ")
}

// decode reads what encode wrote, and nothing else: no other spelling of it,
// and no caller who cannot be.
func decode(text string) (access.Caller, error) {
	parts := strings.Split(text, " ")
	if len(parts) != callerParts {
		return access.Caller{}, malformed()
	}
	role, err := access.ParseRole(parts[0])
	if err != nil {
		return access.Caller{}, malformed()
	}
	for i, p := range parts[1:] {
		if parts[i+1], err = url.QueryUnescape(p); err != nil {
			return access.Caller{}, malformed()
		}
	}
	c := access.Caller{Role: role, Bearer: parts[1], Person: parts[2], Organisation: parts[3], Account: parts[4], Credential: parts[5]}
	if !conceivable(c) || encode(c) != text {
		return access.Caller{}, malformed()
	}
	return c, nil
}

// callerParts is how many parts a caller has in the header.
const callerParts = 6

// conceivable reports whether there can be such a caller: an owner has a person
// and no account, a dealer an organisation and no person, staff an account at
// the most.
func conceivable(c access.Caller) bool {
	if !access.ValidBearer(c.Bearer) {
		return false
	}
	if _, err := resname.Match("person", people+"{person}", c.Person); c.Person != "" && (err != nil || c.Role != access.Owner) {
		return false
	}
	if _, ok := access.OrganisationID(c.Organisation); c.Organisation != "" && (!ok || c.Role != access.Dealer) {
		return false
	}
	if _, ok := access.AccountID(c.Account); c.Account != "" && (!ok || c.Role == access.Owner || c.Role == access.Service) {
		return false
	}
	return c.Credential == "" || isName(c.Credential)
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
