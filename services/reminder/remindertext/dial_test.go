package remindertext

import (
	"net/netip"
	"strings"
	"testing"
	"time"

	"halfshaft/services/fault"
)

func TestOnlyPublicAddressesAreReached(t *testing.T) {
	// The ranges are those of the IANA special-purpose address registries (RFC
	// 6890), multicast (RFC 5771; RFC 4291 section 2.7) and NAT64 (RFC 6052,
	// RFC 8215); one address at each end.
	var none allowed
	for _, text := range []string{
		"0.0.0.0", "0.255.255.255", "10.0.0.0", "10.255.255.255", "100.64.0.0", "100.127.255.255", "127.0.0.1", "127.255.255.255",
		"169.254.169.254", "172.16.0.0", "172.31.255.255", "192.0.0.8", "192.0.2.1", "192.168.0.1", "192.168.255.255",
		"198.18.0.0", "198.19.255.255", "198.51.100.7", "203.0.113.7", "224.0.0.1", "239.255.255.255", "240.0.0.0", "255.255.255.255",
		"::", "::1", "::7f00:1", "::ffff:127.0.0.1", "::ffff:10.0.0.1", "::ffff:192.0.9.1", "64:ff9b::a00:1", "64:ff9b:1::1",
		"100::1", "2001::1", "2001:db8::1", "2002:a00:1::1", "3fff::1", "fc00::1", "fdff::1", "fe80::1", "fe80::1%eth0", "fec0::1", "ff02::1",
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
	a, err := parseAllowed([]string{"gateway.lan", "10.1.0.0/16", "fd00:1::/32", "169.254.7.0/24"})
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
	} {
		if err := a.check(c.host, netip.MustParseAddr(c.address)); (err == nil) != c.good {
			t.Errorf("%s at %s: %v", c.host, c.address, err)
		}
	}
}

func TestSettingsThatMustNotBeUsedAreRefused(t *testing.T) {
	good := Config{URL: "https://gateway.aldermoor.example/send", Secret: secret, Clock: time.Now}
	if _, err := New(good); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		change func(*Config)
		field  string
	}{
		"no address":                  {func(c *Config) { c.URL = "" }, "text.url"},
		"no encryption":               {func(c *Config) { c.URL = "http://gateway.aldermoor.example/send" }, "text.url"},
		"none though named":           {func(c *Config) { c.URL = "http://gateway.lan/"; c.AllowPrivate = []string{"gateway.lan"} }, "text.url"},
		"none to this machine":        {func(c *Config) { c.URL = "http://127.0.0.1/send" }, "text.url"},
		"none to this machine, range": {func(c *Config) { c.URL = "http://127.0.0.1/"; c.AllowPrivate = []string{"127.0.0.0/8"} }, "text.url"},
		"a file":                      {func(c *Config) { c.URL = "file:///etc/passwd" }, "text.url"},
		"a password in the address":   {func(c *Config) { c.URL = "https://a:b@gateway.aldermoor.example/" }, "text.url"},
		"no secret":                   {func(c *Config) { c.Secret = "" }, "text.secret"},
		"a secret without its prefix": {func(c *Config) { c.Secret = strings.TrimPrefix(secret, "whsec_") }, "text.secret"},
		"a short secret":              {func(c *Config) { c.Secret = "whsec_c2hvcnQ=" }, "text.secret"},
		"a range that is none":        {func(c *Config) { c.AllowPrivate = []string{"10.0.0.0/99"} }, "text.allow_private"},
		"a port with the host":        {func(c *Config) { c.AllowPrivate = []string{"gateway.lan:80"} }, "text.allow_private"},
		"no clock":                    {func(c *Config) { c.Clock = nil }, "text.clock"},
	} {
		config := good
		c.change(&config)
		_, err := New(config)
		if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.field+":") {
			t.Errorf("%s: got %v, want a complaint about %s", name, err, c.field)
		}
		if err != nil && strings.Contains(err.Error(), "a:b@") {
			t.Errorf("%s: %v tells the password", name, err)
		}
	}
	for _, plain := range []Config{
		{URL: "http://127.0.0.1:8080/send", AllowPrivate: []string{"127.0.0.1"}},
		{URL: "http://localhost/send", AllowPrivate: []string{"localhost"}},
		{URL: "http://[::1]/send", AllowPrivate: []string{"::1"}},
	} {
		plain.Secret, plain.Clock = secret, time.Now
		if _, err := New(plain); err != nil {
			t.Errorf("%s: %v", plain.URL, err)
		}
	}
}
