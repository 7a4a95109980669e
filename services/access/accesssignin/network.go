package accesssignin

import (
	"net/netip"

	"halfshaft/services/fault"
	"halfshaft/services/internal/throttle"
)

// networkOf reads the network that a request says somebody comes from, and
// writes it as it is kept: "192.0.2.17", "2001:db8:1:2::/64". A whole IPv6
// address becomes its household. Empty is one that is not said. Nothing else is
// counted by, kept or told to the audit.
func networkOf(text string) (string, error) {
	if text == "" {
		return "", nil
	}
	if a, err := netip.ParseAddr(text); err == nil && a.Zone() == "" {
		return throttle.NetworkText(throttle.Network(a)), nil
	}
	p, err := netip.ParsePrefix(text)
	if err != nil {
		return "", fault.InvalidField("network", abridged(text), "an IP address or a range of them, as in 192.0.2.17 or 2001:db8:1:2::/64")
	}
	if p.Addr().Is4In6() {
		return "", fault.InvalidField("network", abridged(text), "a range in the form of its own family, as in 192.0.2.0/24")
	}
	return throttle.NetworkText(p.Masked()), nil
}

// mostShown bounds what a refusal repeats.
const mostShown = 64

func abridged(text string) string {
	if len(text) > mostShown {
		return text[:mostShown] + "…"
	}
	return text
}
