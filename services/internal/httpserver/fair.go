package httpserver

import (
	"net"
	"net/netip"

	"halfshaft/services/internal/throttle"
)

// fair lets nobody have more than so many connections at once: a browser that
// is hung up on tries again, and one who hoards gets no further. Loopback is not
// counted, nor a proxy that the operator named, since behind a proxy everybody
// comes from there; the proxy counts then.
func fair(l net.Listener, most int, trusted func(netip.Addr) bool) net.Listener {
	return throttle.Connections{PerNetwork: most, Spare: func(a netip.Addr) bool {
		return a.IsLoopback() || trusted != nil && trusted(a)
	}}.Listener(l)
}
