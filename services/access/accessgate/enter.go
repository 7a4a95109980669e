package accessgate

import (
	"context"
	"net"
	"net/netip"
	"strings"

	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"
	"google.golang.org/protobuf/proto"

	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/grpcserver"
	"halfshaft/services/internal/throttle"
	"halfshaft/services/vehicle"
)

// visit is one call as the gate knows it.
type visit struct {
	method  string
	rule    *rule
	caller  access.Caller
	through string       // the bearer of the service that speaks for the caller; empty for themselves
	network netip.Prefix // from where; invalid for what came over none
	limited bool         // what the request names must be the caller's own
}

// speaker is who made the call.
type speaker struct {
	access.Caller
	key    string // identifier of the key they showed; empty for none
	scopes []string
}

// noRule is that of a method which nobody classified: nobody may call it.
var noRule = &rule{}

// enter finds out who calls and whether their role may call the method. The
// visit says as much as is known, also with an error.
func (g *Gate) enter(ctx context.Context, method string) (visit, error) {
	v := visit{method: method, rule: noRule, network: networkOf(ctx)}
	if r, ok := g.rules[method]; ok {
		v.rule = r
	}
	by, err := g.authenticate(ctx, &v)
	if err == nil {
		err = g.admit(&v, by)
	}
	if fault.Is(err, fault.Unauthenticated) {
		err = g.limits.failed(v.network, g.machine(), err)
	}
	return v, err
}

// admit decides by limit, role and scope about a caller who is known.
func (g *Gate) admit(v *visit, by speaker) error {
	if err := g.limits.take(by, v.network, g.machine()); err != nil {
		return err
	}
	switch v.rule.Relation(v.caller.Role) {
	case access.Anything:
	case access.TheirOwn:
		v.limited = true
	default:
		if v.caller.Role == access.Nobody {
			return fault.New(fault.Unauthenticated, "KEY_MISSING", "This needs a key: authorization: Bearer hsk_…")
		}
		return notAllowed(v.caller, v.method)
	}
	if !v.rule.Roles.Has(access.Nobody) && !access.InScope(by.scopes, v.method) {
		return outOfScope(v.method)
	}
	return g.limits.change(*v, g.machine())
}

// authenticate finds the caller whom the call is made for, and gives who made
// it.
func (g *Gate) authenticate(ctx context.Context, v *visit) (speaker, error) {
	by, err := g.speaker(ctx)
	if err != nil {
		return by, err
	}
	v.caller = by.Caller
	if err := g.standing(ctx, by.Caller); err != nil {
		return by, err
	}
	switch spoken := metadata.ValueFromIncomingContext(ctx, onBehalfOf); {
	case len(spoken) == 0:
		return by, nil
	case by.Role != access.Service:
		// Not merely ignored: somebody means to be somebody else.
		return by, fault.New(fault.Unauthenticated, "CALLER_FORGED", "Only a service may call for somebody else.")
	case len(spoken) > 1:
		return by, malformed()
	default:
		caller, err := decode(spoken[0])
		if err != nil {
			return by, err
		}
		if caller.Role == access.Service && caller.Credential == "" {
			caller.Credential = by.Credential
		}
		v.caller, v.through = caller, by.Bearer
		return by, g.standing(ctx, caller)
	}
}

// speaker gives who made the call, by key or by connection.
func (g *Gate) speaker(ctx context.Context) (speaker, error) {
	switch keys := metadata.ValueFromIncomingContext(ctx, authorization); len(keys) {
	case 0:
	case 1:
		if len(keys[0]) < len(bearerScheme) || !strings.EqualFold(keys[0][:len(bearerScheme)], bearerScheme) {
			return speaker{}, fault.New(fault.Unauthenticated, "KEY_MALFORMED", "The authorization header reads: Bearer hsk_…")
		}
		if err := g.synced(ctx, g.ofKeys); err != nil {
			return speaker{}, err
		}
		key, err := g.keys.admit(keys[0][len(bearerScheme):], g.clock())
		if err != nil {
			return speaker{}, err
		}
		if key.Role == access.Service {
			if err := g.proved(ctx); err != nil {
				return speaker{}, err
			}
		}
		g.uses.note(key.ID, g.clock())
		return speaker{key.Caller(), key.ID, key.Scopes}, nil
	default:
		return speaker{}, fault.New(fault.Unauthenticated, "KEY_MALFORMED", "A call carries one authorization header.")
	}
	switch grpcserver.Transport(ctx) {
	case grpcserver.InProcess:
		return speaker{Caller: ThisProcess}, nil
	case grpcserver.Unix:
		return speaker{Caller: LocalOperator}, nil
	}
	return speaker{}, nil
}

// proved refuses a service that must show a certificate and did not. It may
// speak for anybody, so that its key alone is good on this machine only, and
// there only where nobody asked for more. Whoever comes by the unix socket runs
// this process and needs none.
func (g *Gate) proved(ctx context.Context) error {
	if grpcserver.Transport(ctx) != grpcserver.TCP || grpcserver.Certified(ctx) || !g.proofs && onLoopback(ctx) {
		return nil
	}
	return fault.New(fault.Unauthenticated, "CERTIFICATE_MISSING",
		"Over a network, and everywhere with --peer-ca, a service needs a client certificate beside its key, of the authority that --peer-ca names.")
}

// onLoopback reports whether a call over TCP came from this machine.
func onLoopback(ctx context.Context) bool {
	p, ok := peer.FromContext(ctx)
	if !ok {
		return false
	}
	from, ok := p.Addr.(*net.TCPAddr)
	return ok && from.IP.IsLoopback()
}

// standing refuses who has an account or an organisation that was closed, or an
// account that is no longer what the caller is said to be.
func (g *Gate) standing(ctx context.Context, c access.Caller) error {
	if c.Account == "" && c.Organisation == "" {
		return nil
	}
	if err := g.synced(ctx, g.ofBook); err != nil {
		return err
	}
	return g.book.standing(c)
}

// own refuses a request that names what is not the limited caller's. For a
// thing that is another's and for one that is not there it asks the same.
func (g *Gate) own(ctx context.Context, v visit, req any) error {
	if !v.limited {
		return nil
	}
	m, ok := req.(proto.Message)
	if !ok || len(v.rule.names) != len(v.rule.Names) {
		return fault.New(fault.Internal, "REQUEST_UNREADABLE", "a request in which the gate cannot look")
	}
	if err := g.synced(ctx, g.ofTies); err != nil {
		return err
	}
	if err := g.synced(ctx, g.ofBook); err != nil {
		return err
	}
	has := g.sees(v.caller, vehicle.DateOf(g.clock().UTC()))
	for _, n := range v.rule.names {
		if err := n.theirs(m, v.caller, has); err != nil {
			return err
		}
	}
	return nil
}

// sees gives which vehicles a limited caller may know of on a day: an owner
// those that they are tied to, a dealer those that are assigned to them.
// Nothing is nobody's.
func (g *Gate) sees(c access.Caller, on vehicle.Date) func(vehicle.Serial) bool {
	switch {
	case c.Role == access.Owner && c.Person != "":
		return g.ties.of(c.Person, on)
	case c.Role == access.Dealer && c.Organisation != "":
		return func(serial vehicle.Serial) bool {
			return g.book.assigned(serial, c.Organisation, on, func(person string) bool {
				return g.ties.of(person, on)(serial)
			})
		}
	}
	return func(vehicle.Serial) bool { return false }
}

// networkOf gives from which network a call came; the zero Prefix for what came
// over none.
func networkOf(ctx context.Context) netip.Prefix {
	p, ok := peer.FromContext(ctx)
	if !ok {
		return netip.Prefix{}
	}
	return throttle.NetworkOf(p.Addr)
}
