package httpserver

import (
	"net"
	"net/netip"
	"sync"
)

// fairListener lets nobody have more than so many connections at once. More are
// closed unanswered: a browser tries again, and one who hoards gets no further.
// Loopback is not counted, since behind a proxy everybody comes from there; the
// proxy counts then.
type fairListener struct {
	net.Listener
	most int

	mu   sync.Mutex
	held map[netip.Prefix]int
}

func newFairListener(l net.Listener, most int) *fairListener {
	return &fairListener{Listener: l, most: most, held: map[netip.Prefix]int{}}
}

// Accept implements net.Listener.
func (l *fairListener) Accept() (net.Conn, error) {
	for {
		conn, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		at, counted := caller(conn)
		if !counted {
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

// caller is the address that a connection comes from: the whole one of IPv4,
// and of IPv6 the /64, all of which one household has.
func caller(conn net.Conn) (at netip.Prefix, counted bool) {
	tcp, ok := conn.RemoteAddr().(*net.TCPAddr)
	if !ok {
		return at, false
	}
	ip := tcp.AddrPort().Addr().Unmap().WithZone("")
	if !ip.IsValid() || ip.IsLoopback() {
		return at, false
	}
	bits := 32
	if ip.Is6() {
		bits = 64
	}
	at, err := ip.Prefix(bits)
	return at, err == nil
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
