package outgoing

import (
	"net/netip"
	"strings"
	"testing"

	"halfshaft/services/fault"
)

// FuzzCheck holds to it that an address is taken only with encryption, or to
// this machine where it is named, and that no refusal tells a password.
func FuzzCheck(f *testing.F) {
	for _, a := range []string{
		"https://gateway.aldermoor.example/send", "http://localhost/", "http://127.0.0.1:80/", "http://localhost.aldermoor.example/", "https://a:secretword@b/",
		"http://[::1]/", "http://[::ffff:127.0.0.1]/", "a:secretword@b/send", "gateway/secretword@b", "https:opaque", "//b", "http://2130706433/", "https://b:99999/", "https://b/%00#x",
	} {
		f.Add(a)
	}
	client, err := New(Config{Allow: []string{"localhost", "127.0.0.1", "::1"}})
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, address string) {
		u, err := client.Check("url", address)
		if err != nil {
			if u != nil || !fault.Is(err, fault.Invalid) {
				t.Errorf("%q: %v, %v", address, u, err)
			}
			if strings.Contains(address, "secretword@") && strings.Contains(err.Error(), "secretword@") {
				t.Errorf("%q: %v tells the password", address, err)
			}
			return
		}
		host := strings.ToLower(u.Hostname())
		if u.User != nil || u.Scheme != "https" && (u.Scheme != "http" || host != "localhost" && host != "127.0.0.1" && host != "::1") {
			t.Errorf("%q is taken", address)
		}
	})
}

// FuzzAllowed holds to it that what is named opens no more than it says.
func FuzzAllowed(f *testing.F) {
	for _, text := range []string{"gateway.lan", "10.0.0.0/8", "0.0.0.0/0", "::/0", "fe80::1%eth0", "a b", "a:1", "10.0.0.0/99", ""} {
		f.Add(text)
	}
	address := netip.MustParseAddr("169.254.169.254")
	f.Fuzz(func(t *testing.T, text string) {
		a, err := parseAllowed("allow", []string{text})
		if err != nil {
			if !fault.Is(err, fault.Invalid) {
				t.Errorf("%q: %v", text, err)
			}
			return
		}
		if a.check("gateway.lan", address) == nil {
			if p, err := netip.ParsePrefix(text); err != nil || !p.Contains(address) {
				t.Errorf("%q opens %s", text, address)
			}
		}
	})
}
