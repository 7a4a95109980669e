package works

import (
	"net"
	"net/url"
	"strings"
	"testing"
)

// FuzzAddress holds to it that no address of a flag passes for one on this
// machine that leads anywhere else.
func FuzzAddress(f *testing.F) {
	for _, a := range []string{
		"127.0.0.1:1", "[::1]:1", "localhost:1", "unix:/x", "127.0.0.1.example:1", "0.0.0.0:1", ":1", "[::ffff:127.0.0.1]:1", "http://127.0.0.1:1",
		"https://a:1", "http://a@127.0.0.1", "http://127.0.0.1@a.example/", "unix://a", "unixs:/x", "http://127.0.0.1:1/a@b.example:1",
	} {
		f.Add(a)
	}
	here := func(host string) bool {
		ip := net.ParseIP(host)
		return host == "localhost" || ip != nil && ip.IsLoopback()
	}
	f.Fuzz(func(t *testing.T, address string) {
		if local(address) && !strings.HasPrefix(address, "unix:") {
			if host, _, err := net.SplitHostPort(address); err != nil || !here(host) {
				t.Errorf("%q passes for this machine", address)
			}
		}
		if protectedURL(address, false) {
			u, err := url.Parse(address)
			if err != nil || u.Scheme != "https" && !here(u.Hostname()) {
				t.Errorf("the URL %q passes", address)
			}
		}
		if (Config{}).protectedEndpoint(address) {
			scheme, rest, found := strings.Cut(address, "://")
			if found && scheme == "http" {
				if u, err := url.Parse(address); err == nil && !here(u.Hostname()) {
					t.Errorf("the endpoint %q passes, with %q", address, rest)
				}
			}
		}
	})
}
