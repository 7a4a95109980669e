package grpcserver

import (
	"cmp"
	"context"
	"net"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/keepalive"
	"google.golang.org/grpc/tap"

	"halfshaft/services/internal/throttle"
)

// Limits are what the server bears of one client, and of all. What is zero has
// its standard. The connection within the process has none of them.
type Limits struct {
	Connections int           // TCP connections at once, from everywhere; standard 4,096
	PerAddress  int           // and from one address, or one /64 of IPv6; standard 256
	Streams     uint32        // calls at once on one connection, those whose answer waits to be taken among them; standard 100
	Headers     uint32        // bytes of a call's headers; standard 16 KiB
	Handshake   time.Duration // to begin a connection, TLS and all; standard 10 s
	Request     time.Duration // for a request to arrive; standard 10 s
	Answer      time.Duration // for the answers of a stream to be taken; standard 30 s
	Idle        time.Duration // of a connection without calls; standard 15 minutes
	Age         time.Duration // of a connection, before the client must make another; standard 12 hours
	AgeGrace    time.Duration // for the calls that are under way then; standard 5 minutes
}

// normal fills in the standards.
func (l Limits) normal() Limits {
	l.Connections = cmp.Or(l.Connections, 4096)
	l.PerAddress = cmp.Or(l.PerAddress, 256)
	l.Streams = cmp.Or(l.Streams, 100)
	l.Headers = cmp.Or(l.Headers, 16<<10)
	l.Handshake = cmp.Or(l.Handshake, 10*time.Second)
	l.Request = cmp.Or(l.Request, 10*time.Second)
	l.Answer = cmp.Or(l.Answer, 30*time.Second)
	l.Idle = cmp.Or(l.Idle, 15*time.Minute)
	l.Age = cmp.Or(l.Age, 12*time.Hour)
	l.AgeGrace = cmp.Or(l.AgeGrace, 5*time.Minute)
	return l
}

// options are what gRPC itself enforces for connections from outside.
func (l Limits) options() []grpc.ServerOption {
	return []grpc.ServerOption{
		grpc.MaxConcurrentStreams(l.Streams), grpc.MaxHeaderListSize(l.Headers), grpc.ConnectionTimeout(l.Handshake),
		grpc.InTapHandle(l.watch),
		grpc.KeepaliveParams(keepalive.ServerParameters{
			MaxConnectionIdle: l.Idle, MaxConnectionAge: l.Age, MaxConnectionAgeGrace: l.AgeGrace,
			Time: pingEvery, Timeout: pingAnswer,
		}),
	}
}

// patience ends a call from outside whose client keeps it waiting: gRPC itself
// waits for a request, and for the answers of a stream to be taken, as long as
// the connection lasts. The one answer of other calls it takes from us at once,
// and keeps. The methods do nothing for a call that has no patience.
type patience struct {
	timer  *time.Timer
	answer time.Duration
}

type patienceKey struct{}

// watch begins each call from outside, before its request has arrived.
func (l Limits) watch(ctx context.Context, _ *tap.Info) (context.Context, error) {
	ctx, cancel := context.WithCancel(ctx) // ends with the call, whose context is above it
	p := &patience{time.AfterFunc(l.Request, cancel), l.Answer}
	return context.WithValue(ctx, patienceKey{}, p), nil
}

func patienceOf(ctx context.Context) *patience {
	p, _ := ctx.Value(patienceKey{}).(*patience)
	return p
}

// arrived says that the client keeps nobody waiting now.
func (p *patience) arrived() {
	if p != nil {
		p.timer.Stop()
	}
}

// sending says that from now on the client has to take an answer.
func (p *patience) sending() {
	if p != nil {
		p.timer.Reset(p.answer)
	}
}

// listener lets no more connections in than the limits say.
func (l Limits) listener(under net.Listener) net.Listener {
	return throttle.Connections{All: l.Connections, PerNetwork: l.PerAddress}.Listener(under)
}
