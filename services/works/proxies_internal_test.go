package works

import (
	"testing"

	"halfshaft/services/fault"
)

func TestAProxyThatIsNoneIsRefusedAtTheStart(t *testing.T) {
	_, err := Config{Data: t.TempDir(), TrustedProxies: []string{"127.0.0.1", "everybody"}}.normal()
	if f := fault.FieldsOf("", err); len(f) != 1 || f[0].Name != "trusted-proxy[1]" || f[0].Got != "everybody" || f[0].Want == "" {
		t.Errorf("got %v", err)
	}
	good, err := Config{Data: t.TempDir(), TrustedProxies: []string{"127.0.0.1", "2001:db8::/64"}}.normal()
	if err != nil || good.proxies == nil {
		t.Errorf("got %v, %v", good.proxies, err)
	}
}
