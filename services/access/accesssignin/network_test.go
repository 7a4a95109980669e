package accesssignin

import (
	"strings"
	"testing"

	"halfshaft/services/fault"
)

// Addresses of RFC 5737 and RFC 3849, which nobody has.
func TestANetworkIsOneOrIsRefused(t *testing.T) {
	for text, want := range map[string]string{
		"": "", "192.0.2.17": "192.0.2.17", "192.0.2.17/32": "192.0.2.17", "192.0.2.17/24": "192.0.2.0/24",
		"2001:db8:1:2:3:4:5:6": "2001:db8:1:2::/64", "2001:db8:1:2::/64": "2001:db8:1:2::/64", "2001:db8:1:2:3::/64": "2001:db8:1:2::/64",
		"::ffff:192.0.2.17": "192.0.2.17", "127.0.0.1": "127.0.0.1",
	} {
		if got, err := networkOf(text); err != nil || got != want {
			t.Errorf("%q: got %q, %v, want %q", text, got, err, want)
		}
	}
	for _, text := range []string{
		"nowhere", "192.0.2.17:443", "192.0.2", "fe80::1%eth0", "192.0.2.1 <script>", "::ffff:192.0.2.0/120", " 192.0.2.1", "192.0.2.1/33",
		"\x00", strings.Repeat("9", 1000), `{"actor":"ida"}`,
	} {
		got, err := networkOf(text)
		fields := fault.FieldsOf("", err)
		if got != "" || len(fields) != 1 || fields[0].Name != "network" || fields[0].Want == "" || len(fields[0].Got) > 70 {
			t.Errorf("%q: got %q and %v", text, got, fields)
		}
	}
}

func FuzzNetwork(f *testing.F) {
	for _, text := range []string{"", "192.0.2.17", "2001:db8::/64", "::ffff:192.0.2.1", "fe80::1%x", "0/0"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := networkOf(text)
		if err != nil {
			return
		}
		if again, err := networkOf(got); err != nil || again != got || strings.Trim(got, "0123456789abcdef.:/") != "" {
			t.Errorf("%q becomes %q, and that %q, %v", text, got, again, err)
		}
	})
}
