package outgoing

import (
	"net/netip"
	"testing"

	"halfshaft/services/fault"
)

func TestOnlyPublicAddressesAreReached(t *testing.T) {
	// The ranges are those of the IANA special-purpose address registries (RFC
	// 6890 and its updates; 100:0:0:1::/64 of RFC 9780 from memory), multicast (RFC 5771; RFC 4291 section 2.7) and NAT64 (RFC 6052,
	// RFC 8215); one address at each end.
	none := allowed{setting: "allow"}
	for _, text := range []string{
		"0.0.0.0", "0.255.255.255", "10.0.0.0", "10.255.255.255", "100.64.0.0", "100.127.255.255", "127.0.0.1", "127.255.255.255",
		"169.254.169.254", "172.16.0.0", "172.31.255.255", "192.0.0.8", "192.0.2.1", "192.168.0.1", "192.168.255.255",
		"198.18.0.0", "198.19.255.255", "198.51.100.7", "203.0.113.7", "224.0.0.1", "239.255.255.255", "240.0.0.0", "255.255.255.255",
		"::", "::1", "::7f00:1", "::ffff:127.0.0.1", "::ffff:10.0.0.1", "::ffff:192.0.9.1", "64:ff9b::a00:1", "64:ff9b:1::1",
		"100::1", "100:0:0:1::1", "2001::1", "2001:1ff:ffff::1", "2001:db8::1", "2002:a00:1::1", "3fff::1", "4000::1", "5f00::1", "8000::1", "fc00::1", "fdff::1", "fe80::1", "fe80::1%eth0", "fec0::1", "ff02::1",
	} {
		if err := none.check("gateway.example", netip.MustParseAddr(text)); !fault.Is(err, fault.FailedPrecondition) {
			t.Errorf("%s: got %v", text, err)
		}
	}
	for _, text := range []string{
		"1.0.0.1", "9.255.255.255", "11.0.0.0", "100.63.255.255", "100.128.0.0", "172.15.255.255", "172.32.0.0",
		"192.167.255.255", "198.17.255.255", "198.20.0.0", "223.255.255.255", "2001:4860::1", "2606::1", "2a00::1",
	} {
		if err := none.check("gateway.example", netip.MustParseAddr(text)); err != nil {
			t.Errorf("%s: %v", text, err)
		}
	}
}

func TestTheOperatorNamesWhatMayBeReachedBesides(t *testing.T) {
	a, err := parseAllowed("allow", []string{"gateway.lan", "10.1.0.0/16", "fd00:1::/32", "169.254.7.0/24"})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		host, address string
		good          bool
	}{
		{"gateway.lan", "192.168.7.7", true},
		{"GATEWAY.LAN", "127.0.0.1", true},
		{"gateway.lan", "::1", true},
		{"gateway.lan", "fd77::1", true},
		{"gateway.lan", "169.254.169.254", false}, // a name does not open what only machines use
		{"gateway.lan", "::ffff:10.2.0.1", false},
		{"gateway.lan", "224.0.0.1", false},
		{"gateway.lan", "0.0.0.0", false},
		{"other.lan", "192.168.7.7", false},
		{"other.lan", "10.1.2.3", true},
		{"other.lan", "10.2.2.3", false},
		{"other.lan", "fd00:1::7", true},
		{"other.lan", "169.254.7.9", true},
		{"localhost", "127.0.0.1", false}, // nobody named it
	} {
		if err := a.check(c.host, netip.MustParseAddr(c.address)); (err == nil) != c.good {
			t.Errorf("%s at %s: %v", c.host, c.address, err)
		}
	}
}

// A name that may be spoken to in plain text is this machine, whatever the
// resolver says.
func TestLocalhostIsThisMachineOrNothing(t *testing.T) {
	a, err := parseAllowed("allow", []string{"localhost", "10.0.0.0/8"})
	if err != nil {
		t.Fatal(err)
	}
	for address, good := range map[string]bool{"127.0.0.1": true, "::1": true, "10.0.0.1": false, "192.168.0.1": false, "9.9.9.9": false} {
		if err := a.check("localhost", netip.MustParseAddr(address)); (err == nil) != good {
			t.Errorf("localhost at %s: %v", address, err)
		}
	}
}

// IANA calls these ranges of the special-purpose registries globally
// reachable: whoever has a host there may be a gateway.
func TestSpecialRangesThatAreReachableAreNotRefused(t *testing.T) {
	for _, text := range []string{"192.31.196.1", "192.52.193.1", "192.175.48.1", "2620:4f:8000::1"} {
		if !public(netip.MustParseAddr(text)) {
			t.Errorf("%s is refused", text)
		}
	}
}
