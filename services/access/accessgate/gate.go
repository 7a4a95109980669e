package accessgate

import (
	"context"
	"errors"
	"log/slog"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoregistry"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/feed"
	"halfshaft/services/internal/grpcserver"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

// Who is taken for whom where no key says.
var (
	// LocalOperator is whoever can open the unix socket of the data directory:
	// the user who runs the process could read its files as well.
	LocalOperator = access.Caller{Role: access.Administrator, Bearer: "local operator"}
	// ThisProcess is a service of this process that speaks for nobody.
	ThisProcess = access.Caller{Role: access.Service, Bearer: "halfshaft"}
)

// Config is what a gate needs. The zero value of Table is access.Table.
type Config struct {
	Clock  func() time.Time
	Logger *slog.Logger
	Table  map[string]access.Rule

	// Certificates asks a service that comes over TCP for more than its key: a
	// client certificate that the server's TLS configuration verified. It may
	// speak for anybody, so a key that leaked must not be enough.
	Certificates bool
}

// Gate implements grpcserver.Gate. Until Follow is called, it knows no keys
// and whose vehicle is whose: calls that need either wait.
type Gate struct {
	clock  func() time.Time
	logger *slog.Logger
	rules  map[string]rule
	proofs bool // Config.Certificates
	keys   keyring
	ties   ties

	following chan struct{} // closed by Follow
	keyFeed   *feed.Follower
	tieFeed   *feed.Follower
}

// New makes a gate. It fails when a rule of the table names a field that its
// request does not have.
func New(c Config) (*Gate, error) {
	if c.Table == nil {
		c.Table = access.Table()
	}
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	rules, err := compile(c.Table, protoregistry.GlobalFiles)
	if err != nil {
		return nil, err
	}
	return &Gate{clock: c.Clock, logger: c.Logger, rules: rules, proofs: c.Certificates, following: make(chan struct{})}, nil
}

// Follow begins to follow the keys and the ties, over connections that call
// for the service itself (see Forward). It is called once. Both feeds join the
// group, so that a revoked key is dead, and a tie made or ended counts, in
// this process before the call that did it is answered.
func (g *Gate) Follow(ctx context.Context, keys accessv1.AccessServiceClient, owners ownerv1.OwnerServiceClient, group *projection.Group) {
	g.keyFeed = feed.Follow(ctx, "keys", func(ctx context.Context) (grpc.ServerStreamingClient[accessv1.WatchKeysResponse], error) {
		g.keys.restart()
		return keys.WatchKeys(ctx, &accessv1.WatchKeysRequest{})
	}, g.keys.apply, g.logger)
	g.tieFeed = feed.Follow(ctx, "ties", func(ctx context.Context) (grpc.ServerStreamingClient[ownerv1.WatchTiesResponse], error) {
		g.ties.restart()
		return owners.WatchTies(ctx, &ownerv1.WatchTiesRequest{})
	}, g.ties.apply, g.logger)
	group.Add("access", g.keyFeed)
	group.Add("owner", g.tieFeed)
	close(g.following)
}

// Ready returns nil once the gate knows all keys and ties.
func (g *Gate) Ready(ctx context.Context) error {
	if err := g.synced(ctx, func() *feed.Follower { return g.keyFeed }); err != nil {
		return err
	}
	return g.synced(ctx, func() *feed.Follower { return g.tieFeed })
}

// synced waits for the first snapshot of a feed.
func (g *Gate) synced(ctx context.Context, which func() *feed.Follower) error {
	select {
	case <-g.following:
		if err := which().Synced(ctx); err == nil {
			return nil
		}
	case <-ctx.Done():
	}
	return &fault.Error{
		Kind: fault.Unavailable, Reason: "GATE_NOT_READY", RetryAfter: time.Second,
		Message: "The door does not yet know its keys.", Cause: ctx.Err(),
	}
}

// Close ends the feeds. The gate stays shut to those whom it knew through
// them no more than it was.
func (g *Gate) Close() error {
	select {
	case <-g.following:
		g.keyFeed.Close()
		g.tieFeed.Close()
	default:
	}
	return nil
}

// Unary implements grpcserver.Gate.
func (g *Gate) Unary() grpc.UnaryServerInterceptor {
	return func(ctx context.Context, req any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
		caller, limited, err := g.enter(ctx, info.FullMethod)
		if err == nil && limited != nil {
			err = g.own(ctx, caller, limited, req)
		}
		if err != nil {
			g.refused(ctx, caller, info.FullMethod, err)
			return nil, err
		}
		return handler(access.NewContext(ctx, caller), req)
	}
}

// Stream implements grpcserver.Gate.
func (g *Gate) Stream() grpc.StreamServerInterceptor {
	return func(srv any, ss grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) error {
		caller, limited, err := g.enter(ss.Context(), info.FullMethod)
		if err != nil {
			g.refused(ss.Context(), caller, info.FullMethod, err)
			return err
		}
		return handler(srv, &guarded{ss, access.NewContext(ss.Context(), caller), g, caller, limited, info.FullMethod})
	}
}

// guarded is a stream that knows its caller and, for a limited one, checks
// each request before the method sees it.
type guarded struct {
	grpc.ServerStream
	ctx     context.Context
	gate    *Gate
	caller  access.Caller
	limited *rule
	method  string
}

// Context implements grpc.ServerStream.
func (s *guarded) Context() context.Context { return s.ctx }

// RecvMsg implements grpc.ServerStream.
func (s *guarded) RecvMsg(m any) error {
	if err := s.ServerStream.RecvMsg(m); err != nil || s.limited == nil {
		return err
	}
	err := s.gate.own(s.ctx, s.caller, s.limited, m)
	if err != nil {
		s.gate.refused(s.ctx, s.caller, s.method, err)
	}
	return err
}

// enter finds out who calls and whether their role may call the method. When
// limited is not nil, what the request names must be the caller's own.
func (g *Gate) enter(ctx context.Context, method string) (caller access.Caller, limited *rule, err error) {
	caller, err = g.authenticate(ctx)
	if err != nil {
		return caller, nil, err
	}
	r := g.rules[method] // an unclassified method has the zero rule: nobody
	switch r.Relation(caller.Role) {
	case access.Anything:
		return caller, nil, nil
	case access.TheirOwn:
		return caller, &r, nil
	}
	if caller.Role == access.Nobody {
		return caller, nil, fault.New(fault.Unauthenticated, "KEY_MISSING", "This needs a key: authorization: Bearer hsk_…")
	}
	return caller, nil, notAllowed(caller, method)
}

// authenticate gives the caller whom the call is made for.
func (g *Gate) authenticate(ctx context.Context) (access.Caller, error) {
	speaker, err := g.speaker(ctx)
	if err != nil {
		return access.Caller{}, err
	}
	switch spoken := metadata.ValueFromIncomingContext(ctx, onBehalfOf); {
	case len(spoken) == 0:
		return speaker, nil
	case speaker.Role != access.Service:
		// Not merely ignored: somebody means to be somebody else.
		return speaker, fault.New(fault.Unauthenticated, "CALLER_FORGED", "Only a service may call for somebody else.")
	case len(spoken) > 1:
		return access.Caller{}, malformed()
	default:
		return decode(spoken[0])
	}
}

// speaker gives who made the call, by key or by connection.
func (g *Gate) speaker(ctx context.Context) (access.Caller, error) {
	switch keys := metadata.ValueFromIncomingContext(ctx, authorization); len(keys) {
	case 0:
	case 1:
		if len(keys[0]) < len(bearerScheme) || !strings.EqualFold(keys[0][:len(bearerScheme)], bearerScheme) {
			return access.Caller{}, fault.New(fault.Unauthenticated, "KEY_MALFORMED", "The authorization header reads: Bearer hsk_…")
		}
		if err := g.synced(ctx, func() *feed.Follower { return g.keyFeed }); err != nil {
			return access.Caller{}, err
		}
		caller, err := g.keys.admit(keys[0][len(bearerScheme):], g.clock())
		if err == nil && caller.Role == access.Service {
			err = g.proved(ctx)
		}
		return caller, err
	default:
		return access.Caller{}, fault.New(fault.Unauthenticated, "KEY_MALFORMED", "A call carries one authorization header.")
	}
	switch grpcserver.Transport(ctx) {
	case grpcserver.InProcess:
		return ThisProcess, nil
	case grpcserver.Unix:
		return LocalOperator, nil
	}
	return access.Caller{}, nil
}

// proved refuses a service that must show a certificate and did not. Whoever
// comes by the unix socket runs this process and needs none.
func (g *Gate) proved(ctx context.Context) error {
	if !g.proofs || grpcserver.Transport(ctx) != grpcserver.TCP || grpcserver.Certified(ctx) {
		return nil
	}
	return fault.New(fault.Unauthenticated, "CERTIFICATE_MISSING",
		"Here a service needs a client certificate beside its key, of the authority that --peer-ca names.")
}

// own refuses a request that names what is not the limited caller's.
func (g *Gate) own(ctx context.Context, caller access.Caller, r *rule, req any) error {
	m, ok := req.(proto.Message)
	if !ok || len(r.names) != len(r.Names) {
		return fault.New(fault.Internal, "REQUEST_UNREADABLE", "a request in which the gate cannot look")
	}
	if err := g.synced(ctx, func() *feed.Follower { return g.tieFeed }); err != nil {
		return err
	}
	person := ""
	if caller.Role == access.Owner {
		person = caller.Person
	}
	has := g.ties.OwnVehicles(person, vehicle.DateOf(g.clock().UTC()))
	for _, n := range r.names {
		if err := n.theirs(m, caller, has); err != nil {
			return err
		}
	}
	return nil
}

// refused logs who was turned away from what, and why: neither the secret nor
// what was asked about.
func (g *Gate) refused(ctx context.Context, caller access.Caller, method string, err error) {
	level, reason, from := slog.LevelInfo, "", ""
	var f *fault.Error
	if errors.As(err, &f) {
		reason = f.Reason
	}
	if fault.Is(err, fault.Unauthenticated) {
		level = slog.LevelWarn
	}
	if p, ok := peer.FromContext(ctx); ok && p.Addr != nil {
		from = p.Addr.String()
	}
	g.logger.LogAttrs(ctx, level, "turned away", slog.String("method", method),
		slog.String("caller", caller.String()), slog.String("reason", reason), slog.String("from", from))
}
