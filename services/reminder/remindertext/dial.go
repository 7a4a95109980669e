package remindertext

import (
	"net"
	"net/netip"
	"slices"
	"strings"
	"syscall"
	"time"

	"halfshaft/services/fault"
)

// notPublic are the ranges that are no host's public address: the IANA
// special-purpose address registries (RFC 6890 and its updates), multicast
// (RFC 5771, RFC 4291 section 2.7), and addresses of IPv6 that carry one of
// IPv4 behind which anything may stand: mapped and compatible (RFC 4291
// section 2.5.5), NAT64 (RFC 6052, RFC 8215), Teredo (within 2001::/23,
// RFC 4380) and 6to4 (RFC 3056).
var notPublic = prefixes(
	"0.0.0.0/8", "10.0.0.0/8", "100.64.0.0/10", "127.0.0.0/8", "169.254.0.0/16", "172.16.0.0/12",
	"192.0.0.0/24", "192.0.2.0/24", "192.88.99.0/24", "192.168.0.0/16", "198.18.0.0/15",
	"198.51.100.0/24", "203.0.113.0/24", "224.0.0.0/4", "240.0.0.0/4",
	"::/96", "::ffff:0:0/96", "64:ff9b::/96", "64:ff9b:1::/48", "100::/64", "2001::/23", "2001:db8::/32",
	"2002::/16", "3fff::/20", "5f00::/16", "fc00::/7", "fe80::/10", "fec0::/10", "ff00::/8",
)

func prefixes(texts ...string) (all []netip.Prefix) {
	for _, text := range texts {
		all = append(all, netip.MustParsePrefix(text))
	}
	return all
}

// allowed is what the operator names beyond public addresses.
type allowed struct {
	hosts  []string
	ranges []netip.Prefix
}

func parseAllowed(texts []string) (allowed, error) {
	var a allowed
	for _, text := range texts {
		if strings.Contains(text, "/") {
			p, err := netip.ParsePrefix(text)
			if err != nil {
				return a, fault.InvalidField("text.allow_private", text, "a host, an address or a range such as 10.1.0.0/16")
			}
			a.ranges = append(a.ranges, p)
			continue
		}
		if text == "" || strings.ContainsAny(text, " \t:") && !isAddress(text) {
			return a, fault.InvalidField("text.allow_private", text, "a host, an address or a range such as 10.1.0.0/16")
		}
		a.hosts = append(a.hosts, text)
	}
	return a, nil
}

func isAddress(text string) bool {
	_, err := netip.ParseAddr(text)
	return err == nil
}

func (a allowed) names(host string) bool {
	return slices.ContainsFunc(a.hosts, func(h string) bool { return strings.EqualFold(h, host) })
}

// plain reports whether a host may be reached without encryption. Only
// "localhost" is believed by name: any other name is whatever the resolver
// says today.
func (a allowed) plain(host string) bool {
	ip, err := netip.ParseAddr(host)
	return a.names(host) && (strings.EqualFold(host, "localhost") || err == nil && ip.Unmap().IsLoopback())
}

// check says whether an address that the host's name was resolved to may be
// connected to. A host that is named may be this machine or a private address;
// what else is not public must be named by its range.
func (a allowed) check(host string, ip netip.Addr) error {
	ip = ip.WithZone("")
	within := func(p netip.Prefix) bool { return p.Contains(ip) }
	switch {
	case !slices.ContainsFunc(notPublic, within):
		return nil
	case slices.ContainsFunc(a.ranges, within):
		return nil
	case a.names(host) && !ip.Is4In6() && (ip.IsLoopback() || ip.IsPrivate()):
		return nil
	}
	return fault.New(fault.FailedPrecondition, "TEXT_ADDRESS_NOT_PUBLIC",
		"the gateway's name leads to %s, which is not a public address; text.allow_private may name it", ip)
}

// dialer checks each address when it is connected to, for a name may lead
// elsewhere a moment after it was looked up.
func (a allowed) dialer(host string, timeout time.Duration) *net.Dialer {
	return &net.Dialer{Timeout: timeout, Control: func(_, address string, _ syscall.RawConn) error {
		to, err := netip.ParseAddrPort(address)
		if err != nil {
			return err
		}
		return a.check(host, to.Addr())
	}}
}
