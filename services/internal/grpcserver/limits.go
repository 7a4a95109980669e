package grpcserver

import (
	"context"
	"net"
	"net/netip"
	"sync"
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
	or(&l.Connections, 4096)
	or(&l.PerAddress, 256)
	or(&l.Streams, 100)
	or(&l.Headers, 16<<10)
	or(&l.Handshake, 10*time.Second)
	or(&l.Request, 10*time.Second)
	or(&l.Answer, 30*time.Second)
	or(&l.Idle, 15*time.Minute)
	or(&l.Age, 12*time.Hour)
	or(&l.AgeGrace, 5*time.Minute)
	return l
}

func or[T comparable](value *T, standard T) {
	var zero T
	if *value == zero {
		*value = standard
	}
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

// counted is a listener that takes no more than so many connections, from all
// and from one address. It hangs up on the others without a word: who is over
// the limit must cost nothing.
type counted struct {
	net.Listener
	total, perAddress int

	mu  sync.Mutex
	all int
	of  map[netip.Prefix]int
}

func (l Limits) listener(under net.Listener) net.Listener {
	return &counted{Listener: under, total: l.Connections, perAddress: l.PerAddress, of: map[netip.Prefix]int{}}
}

// Accept implements net.Listener.
func (l *counted) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from := networkOf(c.RemoteAddr())
		if l.take(from) {
			return &countedConn{Conn: c, leave: sync.OnceFunc(func() { l.leave(from) })}, nil
		}
		c.Close()
	}
}

func (l *counted) take(from netip.Prefix) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.all >= l.total || l.of[from] >= l.perAddress {
		return false
	}
	l.all++
	l.of[from]++
	return true
}

func (l *counted) leave(from netip.Prefix) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.all--
	if l.of[from]--; l.of[from] == 0 {
		delete(l.of, from)
	}
}

func networkOf(a net.Addr) netip.Prefix {
	if tcp, ok := a.(*net.TCPAddr); ok {
		return throttle.Network(tcp.AddrPort().Addr())
	}
	return netip.Prefix{}
}

// countedConn gives its place back when it is closed.
type countedConn struct {
	net.Conn
	leave func()
}

// Close implements net.Conn.
func (c *countedConn) Close() error {
	c.leave()
	return c.Conn.Close()
}
