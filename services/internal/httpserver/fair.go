package httpserver

import (
	"net"
	"net/netip"
	"sync"
)

// fairListener lets nobody have more than so many connections at once. More are
// closed unanswered: a browser tries again, and one who hoards gets no further.
// Loopback is not counted, nor a proxy that the operator named, since behind a
// proxy everybody comes from there; the proxy counts then.
type fairListener struct {
	net.Listener
	most    int
	trusted func(netip.Addr) bool // a proxy of ours

	mu   sync.Mutex
	held map[netip.Prefix]int
}

func newFairListener(l net.Listener, most int, trusted func(netip.Addr) bool) *fairListener {
	return &fairListener{Listener: l, most: most, trusted: trusted, held: map[netip.Prefix]int{}}
}

// Accept implements net.Listener.
func (l *fairListener) Accept() (net.Conn, error) {
	for {
		conn, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from, at, counted := caller(conn)
		if !counted || l.trusted != nil && l.trusted(from) {
			return conn, nil
		}
		if l.take(at) {
			return &countedConn{Conn: conn, give: sync.OnceFunc(func() { l.give(at) })}, nil
		}
		conn.Close()
	}
}

func (l *fairListener) take(at netip.Prefix) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.held[at] >= l.most {
		return false
	}
	l.held[at]++
	return true
}

func (l *fairListener) give(at netip.Prefix) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.held[at]--; l.held[at] <= 0 {
		delete(l.held, at)
	}
}

// caller is the address that a connection comes from, and what is counted of it:
// the whole one of IPv4, and of IPv6 the /64, all of which one household has.
func caller(conn net.Conn) (from netip.Addr, at netip.Prefix, counted bool) {
	tcp, ok := conn.RemoteAddr().(*net.TCPAddr)
	if !ok {
		return from, at, false
	}
	from = tcp.AddrPort().Addr().Unmap().WithZone("")
	if !from.IsValid() || from.IsLoopback() {
		return from, at, false
	}
	bits := 32
	if from.Is6() {
		bits = 64
	}
	at, err := from.Prefix(bits)
	return from, at, err == nil
}

// countedConn gives its place back when it is closed.
type countedConn struct {
	net.Conn
	give func()
}

// Close implements net.Conn.
func (c *countedConn) Close() error {
	defer c.give()
	return c.Conn.Close()
}
