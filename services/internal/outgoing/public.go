package outgoing

import (
	"net/netip"
	"slices"
	"strings"

	"halfshaft/services/fault"
)

// notPublic are the ranges that are no host's public address: what the IANA
// special-purpose address registries (RFC 6890 and its updates) do not call
// globally reachable, multicast (RFC 5771, RFC 4291 section 2.7), and addresses
// of IPv6 that carry one of IPv4 behind which anything may stand: mapped and
// compatible (RFC 4291 section 2.5.5), NAT64 (RFC 6052, RFC 8215), Teredo
// (within 2001::/23, RFC 4380) and 6to4 (RFC 3056). Where a hosting company
// answers programs with passwords, 169.254.169.254, is among the link-local
// ones.
var notPublic = prefixes(
	"0.0.0.0/8", "10.0.0.0/8", "100.64.0.0/10", "127.0.0.0/8", "169.254.0.0/16", "172.16.0.0/12",
	"192.0.0.0/24", "192.0.2.0/24", "192.88.99.0/24", "192.168.0.0/16", "198.18.0.0/15",
	"198.51.100.0/24", "203.0.113.0/24", "224.0.0.0/4", "240.0.0.0/4",
	"::/96", "::ffff:0:0/96", "64:ff9b::/96", "64:ff9b:1::/48", "100::/64", "100:0:0:1::/64", "2001::/23", "2001:db8::/32",
	"2002::/16", "3fff::/20", "5f00::/16", "fc00::/7", "fe80::/10", "fec0::/10", "ff00::/8",
)

// handedOut is all of IPv6 from which public addresses are given (RFC 4291
// section 2.4 and IANA's registry of the address space): outside it nothing is
// a host's, named above or not.
var handedOut = netip.MustParsePrefix("2000::/3")

func prefixes(texts ...string) (all []netip.Prefix) {
	for _, text := range texts {
		all = append(all, netip.MustParsePrefix(text))
	}
	return all
}

// public reports whether an address may be a stranger's host on the internet.
func public(ip netip.Addr) bool {
	if ip.Is6() && !handedOut.Contains(ip) {
		return false
	}
	return !slices.ContainsFunc(notPublic, func(p netip.Prefix) bool { return p.Contains(ip) })
}

// allowed is what the operator names beyond public addresses.
type allowed struct {
	setting string // where they are named, for refusals
	hosts   []string
	ranges  []netip.Prefix
}

func parseAllowed(setting string, texts []string) (allowed, error) {
	a := allowed{setting: setting}
	for _, text := range texts {
		bad := fault.InvalidField(setting, text, "a host, an address or a range such as 10.1.0.0/16")
		if strings.Contains(text, "/") {
			p, err := netip.ParsePrefix(text)
			if err != nil {
				return a, bad
			}
			a.ranges = append(a.ranges, p)
			continue
		}
		if text == "" || strings.ContainsAny(text, " \t:") && !isAddress(text) {
			return a, bad
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
// what else is not public must be named by its range. "localhost" is this
// machine or nothing, since it may be spoken to in plain text.
func (a allowed) check(host string, ip netip.Addr) error {
	ip = ip.WithZone("")
	switch local := strings.EqualFold(host, "localhost"); {
	case !local && public(ip):
		return nil
	case !local && slices.ContainsFunc(a.ranges, func(p netip.Prefix) bool { return p.Contains(ip) }):
		return nil
	case a.names(host) && !ip.Is4In6() && (ip.IsLoopback() || !local && ip.IsPrivate()):
		return nil
	}
	return fault.New(fault.FailedPrecondition, "ADDRESS_NOT_PUBLIC",
		"the name leads to %s, which is not a public address; %s may name it", ip, a.setting)
}
