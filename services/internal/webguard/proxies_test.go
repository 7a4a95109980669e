package webguard

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"halfshaft/services/fault"
)

// Addresses of RFC 5737 and RFC 3849, which nobody has.
func TestTheSenderIsWhoSpeaksOrWhomANamedProxySpeaksFor(t *testing.T) {
	named, err := ParseProxies("trusted-proxy", []string{"127.0.0.1", "10.9.0.0/28", "2001:db8:ffff::/64"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name      string
		proxies   *Proxies
		remote    string
		forwarded []string
		want      string
	}{
		{"an address of the internet", named, "203.0.113.7:1234", nil, "203.0.113.7/32"},
		{"one that says it speaks for another", named, "203.0.113.7:1234", []string{"198.51.100.1"}, "203.0.113.7/32"},
		{"somebody in the house who says so", named, "10.1.2.3:1234", []string{"198.51.100.1"}, "10.1.2.3/32"},
		{"somebody on this machine, where no proxy is named", nil, "127.0.0.1:1234", []string{"198.51.100.1"}, "127.0.0.1/32"},
		{"the named proxy on this machine", named, "127.0.0.1:1234", []string{"198.51.100.1"}, "198.51.100.1/32"},
		{"a named proxy in IPv6's dress", named, "[::ffff:127.0.0.1]:1234", []string{"198.51.100.1"}, "198.51.100.1/32"},
		{"what a sender wrote before the proxy's own word", named, "10.9.0.3:1234", []string{"192.0.2.9, 198.51.100.1"}, "198.51.100.1/32"},
		{"two proxies of ours", named, "127.0.0.1:1234", []string{"192.0.2.9, 198.51.100.1, 10.9.0.3"}, "198.51.100.1/32"},
		{"two proxies of ours in two headers", named, "127.0.0.1:1234", []string{"198.51.100.1", "10.9.0.3"}, "198.51.100.1/32"},
		{"a sender who writes our proxy's address", named, "127.0.0.1:1234", []string{"127.0.0.1, 203.0.113.7"}, "203.0.113.7/32"},
		{"the proxy itself", named, "127.0.0.1:1234", nil, "127.0.0.1/32"},
		{"proxies and nobody before them", named, "127.0.0.1:1234", []string{"10.9.0.3"}, "10.9.0.3/32"},
		{"a proxy that says nonsense", named, "127.0.0.1:1234", []string{"unknown"}, "127.0.0.1/32"},
		{"nonsense before a proxy of ours", named, "127.0.0.1:1234", []string{"198.51.100.1, x, 10.9.0.3"}, "10.9.0.3/32"},
		{"a sender with a port", named, "127.0.0.1:1234", []string{"198.51.100.1:5678"}, "198.51.100.1/32"},
		{"a household", named, "[2001:db8:1:2:3:4:5:6]:1234", nil, "2001:db8:1:2::/64"},
		{"a household by a proxy", named, "[2001:db8:ffff::1]:1234", []string{"[2001:db8:1:2::9]:5678"}, "2001:db8:1:2::/64"},
		{"no address", named, "@", []string{"198.51.100.1"}, "invalid Prefix"},
	} {
		r := httptest.NewRequest(http.MethodPost, "/", nil)
		r.RemoteAddr = c.remote
		for _, f := range c.forwarded {
			r.Header.Add("X-Forwarded-For", f)
		}
		if got := c.proxies.Sender(r).String(); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}

func TestAProxyIsAnAddressOrARangeThatIsNotEverybodys(t *testing.T) {
	for _, text := range []string{"", "proxy.aldermoor.example", "127.0.0.1:80", "0.0.0.0/0", "::/0", "0.0.0.0", "::", "10.0.0.0/33", "fe80::1%eth0", "::ffff:10.0.0.0/104"} {
		_, err := ParseProxies("trusted-proxy", []string{text}, nil)
		if f := fault.FieldsOf("", err); len(f) != 1 || f[0].Name != "trusted-proxy" || f[0].Got != text {
			t.Errorf("%q: got %v", text, err)
		}
	}
	_, err := ParseProxies("trusted-proxy", []string{"127.0.0.1", "x", "::1", "y"}, nil)
	if f := fault.FieldsOf("", err); len(f) != 2 || f[0].Name != "trusted-proxy[1]" || f[1].Got != "y" {
		t.Errorf("got %v", err)
	}
}

func TestAProxyThatIsNotNamedIsToldOfOnce(t *testing.T) {
	var log strings.Builder
	p, err := ParseProxies("trusted-proxy", nil, slog.New(slog.NewTextHandler(&log, nil)))
	if err != nil {
		t.Fatal(err)
	}
	for range 3 {
		r := httptest.NewRequest(http.MethodPost, "/", nil)
		r.RemoteAddr = "127.0.0.1:1234"
		r.Header.Set("X-Forwarded-For", "198.51.100.1")
		p.Sender(r)
	}
	if strings.Count(log.String(), "--trusted-proxy") != 1 || strings.Contains(log.String(), "198.51.100.1") {
		t.Errorf("the log says %q", log.String())
	}
}

func FuzzSender(f *testing.F) {
	for _, s := range []string{"", "198.51.100.1", "x, 10.9.0.3", "[2001:db8::1]:1", ",,,", "127.0.0.1, 127.0.0.1"} {
		f.Add("127.0.0.1:1", s)
	}
	p, err := ParseProxies("trusted-proxy", []string{"127.0.0.1"}, nil)
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, remote, forwarded string) {
		r := &http.Request{RemoteAddr: remote, Header: http.Header{"X-Forwarded-For": {forwarded}}}
		got, plain := p.Sender(r), (*Proxies)(nil).Sender(r)
		if got.IsValid() != plain.IsValid() || !strings.HasPrefix(remote, "127.0.0.1") && !strings.Contains(remote, "127.0.0.1") && got != plain {
			t.Errorf("%q by %q: %v, %v", forwarded, remote, got, plain)
		}
	})
}
