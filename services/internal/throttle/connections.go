package throttle

import (
	"net"
	"net/netip"
	"sync"
)

// Connections bounds how many connections are held at once.
type Connections struct {
	All        int                   // from everywhere together; 0: any number
	PerNetwork int                   // from one network, see Network
	Spare      func(netip.Addr) bool // whose connections PerNetwork does not count; nil: nobody's
}

// Listener takes connections from another listener and hangs up, without a
// word, on those over the limit: who is over it must cost nothing.
func (c Connections) Listener(under net.Listener) net.Listener {
	return &counted{Listener: under, limit: c, of: map[netip.Prefix]int{}}
}

type counted struct {
	net.Listener
	limit Connections

	mu  sync.Mutex
	all int
	of  map[netip.Prefix]int // not of the zero Prefix, which counts among all only
}

// Accept implements net.Listener.
func (l *counted) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from := l.sender(c.RemoteAddr())
		if l.take(from) {
			return &countedConn{Conn: c, leave: sync.OnceFunc(func() { l.leave(from) })}, nil
		}
		_ = c.Close()
	}
}

// sender gives which network a connection is counted for; the zero Prefix for
// none.
func (l *counted) sender(a net.Addr) netip.Prefix {
	from := addrOf(a)
	if l.limit.Spare != nil && l.limit.Spare(from) {
		return netip.Prefix{}
	}
	return Network(from)
}

func (l *counted) take(from netip.Prefix) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.limit.All > 0 && l.all >= l.limit.All || l.of[from] >= l.limit.PerNetwork {
		return false
	}
	l.all++
	if from.IsValid() {
		l.of[from]++
	}
	return true
}

func (l *counted) leave(from netip.Prefix) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.all--
	if l.of[from]--; l.of[from] <= 0 {
		delete(l.of, from)
	}
}

// countedConn gives its place back when it is closed.
type countedConn struct {
	net.Conn
	leave func()
}

// Close implements net.Conn.
func (c *countedConn) Close() error {
	defer c.leave()
	return c.Conn.Close()
}

// NetworkOf is Network for the other end of a connection; the zero Prefix for
// one over no network.
func NetworkOf(a net.Addr) netip.Prefix { return Network(addrOf(a)) }

func addrOf(a net.Addr) netip.Addr {
	if tcp, ok := a.(*net.TCPAddr); ok {
		return tcp.AddrPort().Addr().Unmap().WithZone("")
	}
	return netip.Addr{}
}
