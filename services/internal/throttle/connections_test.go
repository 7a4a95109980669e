package throttle

import (
	"net"
	"net/netip"
	"slices"
	"testing"
)

// scripted is a listener whose connections come from where a test says.
type scripted struct {
	net.Listener
	next []*fakeConn
}

// Accept implements net.Listener.
func (s *scripted) Accept() (net.Conn, error) {
	if len(s.next) == 0 {
		return nil, net.ErrClosed
	}
	c := s.next[0]
	s.next = s.next[1:]
	return c, nil
}

type fakeConn struct {
	net.Conn
	from   net.Addr
	closed bool
}

// RemoteAddr implements net.Conn.
func (c *fakeConn) RemoteAddr() net.Addr { return c.from }

// Close implements net.Conn.
func (c *fakeConn) Close() error { c.closed = true; return nil }

func from(addresses ...string) []*fakeConn {
	var all []*fakeConn
	for _, ip := range addresses {
		c := &fakeConn{from: &net.UnixAddr{}}
		if ip != "" {
			c.from = net.TCPAddrFromAddrPort(netip.AddrPortFrom(netip.MustParseAddr(ip), 4000))
		}
		all = append(all, c)
	}
	return all
}

// accept lets the connections come, and gives those that were taken and which
// of all were not.
func accept(s *scripted, l net.Listener, come ...*fakeConn) (taken []net.Conn, refused []bool) {
	s.next = slices.Clone(come)
	for {
		c, err := l.Accept()
		if err != nil {
			break
		}
		taken = append(taken, c)
	}
	for _, c := range come {
		refused = append(refused, c.closed)
	}
	return taken, refused
}

func TestNobodyHoldsMoreConnectionsThanTheirShare(t *testing.T) {
	proxy := func(a netip.Addr) bool { return a == netip.MustParseAddr("192.0.2.9") }
	for name, c := range map[string]struct {
		limit Connections
		from  []string
		want  []bool // refused
	}{
		"one address, also in IPv6's dress": {Connections{PerNetwork: 2},
			[]string{"192.0.2.7", "192.0.2.7", "::ffff:192.0.2.7", "192.0.2.8"}, []bool{false, false, true, false}},
		"a household is one": {Connections{PerNetwork: 2},
			[]string{"2001:db8::1", "2001:db8::2", "2001:db8::3", "2001:db8:0:1::1"}, []bool{false, false, true, false}},
		"who is spared is not counted": {Connections{PerNetwork: 1, Spare: proxy},
			[]string{"192.0.2.9", "192.0.2.9", "::ffff:192.0.2.9", "192.0.2.8", "192.0.2.8"}, []bool{false, false, false, false, true}},
		"no network is nobody's": {Connections{PerNetwork: 1}, []string{"", "", ""}, []bool{false, false, false}},
		"all together": {Connections{PerNetwork: 2, All: 3},
			[]string{"192.0.2.1", "192.0.2.1", "192.0.2.1", "2001:db8::1", "2001:db8::2"}, []bool{false, false, true, false, true}},
		"all together, those who are spared too": {Connections{PerNetwork: 1, All: 2, Spare: proxy},
			[]string{"192.0.2.9", "192.0.2.9", "192.0.2.9"}, []bool{false, false, true}},
	} {
		t.Run(name, func(t *testing.T) {
			s := &scripted{}
			if _, got := accept(s, c.limit.Listener(s), from(c.from...)...); !slices.Equal(got, c.want) {
				t.Errorf("refused: got %v, want %v", got, c.want)
			}
		})
	}
}

func TestAConnectionThatIsClosedGivesOnePlaceBack(t *testing.T) {
	s := &scripted{}
	l := Connections{PerNetwork: 2, All: 3}.Listener(s)
	taken, _ := accept(s, l, from("192.0.2.1", "192.0.2.1", "192.0.2.2")...)
	if _, refused := accept(s, l, from("192.0.2.3")...); !refused[0] {
		t.Fatal("one more than all was taken")
	}
	for range 2 {
		if err := taken[0].Close(); err != nil {
			t.Fatal(err)
		}
	}
	if _, got := accept(s, l, from("192.0.2.1", "192.0.2.1", "192.0.2.2")...); !slices.Equal(got, []bool{false, true, true}) {
		t.Errorf("refused: got %v", got)
	}
}

func TestAConnectionIsOfItsNetwork(t *testing.T) {
	for ip, want := range map[string]string{"": "invalid Prefix", "::ffff:192.0.2.7": "192.0.2.7/32", "2001:db8::7": "2001:db8::/64"} {
		if got := NetworkOf(from(ip)[0].from).String(); got != want {
			t.Errorf("%q: got %s, want %s", ip, got, want)
		}
	}
}
