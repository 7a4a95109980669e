package accessgate

import (
	"context"
	"log/slog"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/reflect/protoregistry"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/feed"
	"halfshaft/services/internal/projection"
)

// Who is taken for whom where no key says.
var (
	// LocalOperator is whoever can open the unix socket of the data directory:
	// the user who runs the process could read its files as well.
	LocalOperator = access.Caller{Role: access.Administrator, Bearer: "local operator", Credential: "socket"}
	// ThisProcess is a service of this process that speaks for nobody.
	ThisProcess = access.Caller{Role: access.Service, Bearer: "halfshaft", Credential: "process"}
)

// Config is what a gate needs. The zero value of Table is access.Table.
type Config struct {
	Clock  func() time.Time
	Logger *slog.Logger
	Table  map[string]access.Rule

	// Certificates asks a service that comes over TCP from this machine too for
	// more than its key: a client certificate that the server's TLS configuration
	// verified. One that comes from elsewhere always needs it: it may speak for
	// anybody, so a key that leaked must not be enough.
	Certificates bool

	// Recorder keeps the audit; nil keeps none.
	Recorder Recorder

	// Limits are how often callers may call; what is zero has its standard.
	Limits Limits
	// Machine is what the limits count by, apart from Clock, which may stand
	// still or leap where a works is shown; nil is time.Now.
	Machine func() time.Time
}

// Gate implements grpcserver.Gate. Until Follow is called, it knows no keys
// and whose vehicle is whose: calls that need either wait.
type Gate struct {
	clock    func() time.Time
	machine  func() time.Time
	logger   *slog.Logger
	rules    map[string]*rule
	proofs   bool // Config.Certificates
	recorder Recorder
	keys     keyring
	ties     ties
	book     book
	uses     *uses
	limits   *limits

	following chan struct{} // closed by Follow
	keyFeed   *feed.Follower
	tieFeed   *feed.Follower
	bookFeed  *feed.Follower
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
	if c.Machine == nil {
		c.Machine = time.Now
	}
	rules, err := compile(c.Table, protoregistry.GlobalFiles)
	if err != nil {
		return nil, err
	}
	return &Gate{
		clock: c.Clock, machine: c.Machine, logger: c.Logger, rules: rules, proofs: c.Certificates, recorder: c.Recorder,
		uses: newUses(c.Logger), limits: newLimits(c.Limits), following: make(chan struct{}),
	}, nil
}

// Follow begins to follow the keys, the ties, and the organisations, accounts
// and assignments, over connections that call for the service itself (see
// Forward), and to tell when keys are used. It is called once. The feeds join
// the group, so that a revoked key is dead, and a tie or an assignment made or
// ended counts, in this process before the call that did it is answered.
func (g *Gate) Follow(ctx context.Context, door accessv1.AccessServiceClient, owners ownerv1.OwnerServiceClient, group *projection.Group) {
	g.keyFeed = feed.Follow(ctx, "keys", func(ctx context.Context) (grpc.ServerStreamingClient[accessv1.WatchKeysResponse], error) {
		g.keys.restart()
		return door.WatchKeys(ctx, &accessv1.WatchKeysRequest{})
	}, g.keys.apply, g.logger)
	g.tieFeed = feed.Follow(ctx, "ties", func(ctx context.Context) (grpc.ServerStreamingClient[ownerv1.WatchTiesResponse], error) {
		g.ties.restart()
		return owners.WatchTies(ctx, &ownerv1.WatchTiesRequest{})
	}, g.ties.apply, g.logger)
	g.bookFeed = feed.Follow(ctx, "door", func(ctx context.Context) (grpc.ServerStreamingClient[accessv1.WatchDoorResponse], error) {
		g.book.restart()
		return door.WatchDoor(ctx, &accessv1.WatchDoorRequest{})
	}, g.book.apply, g.logger)
	g.uses.tell(ctx, door)
	group.Add("access", g.keyFeed)
	group.Add("access", g.bookFeed)
	group.Add("owner", g.tieFeed)
	close(g.following)
}

// The feeds, for synced.
func (g *Gate) ofKeys() *feed.Follower { return g.keyFeed }
func (g *Gate) ofTies() *feed.Follower { return g.tieFeed }
func (g *Gate) ofBook() *feed.Follower { return g.bookFeed }

// Ready returns nil once the gate knows whom it may let in.
func (g *Gate) Ready(ctx context.Context) error {
	for _, which := range []func() *feed.Follower{g.ofKeys, g.ofTies, g.ofBook} {
		if err := g.synced(ctx, which); err != nil {
			return err
		}
	}
	return nil
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
		g.bookFeed.Close()
		g.uses.close()
	default:
	}
	return nil
}
