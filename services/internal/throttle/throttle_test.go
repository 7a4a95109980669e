package throttle

import (
	"net/netip"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var start = time.Date(2026, time.November, 26, 12, 0, 0, 0, time.UTC)

func TestASenderIsToldTheTruthAboutWhenTheNextTokenIsThere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Rate{
			Every: time.Duration(rapid.Int64Range(int64(10*time.Millisecond), int64(time.Hour)).Draw(t, "every")),
			Burst: rapid.IntRange(1, 50).Draw(t, "burst"),
		}
		b := New[string](r)
		now := start
		for range r.Burst {
			if _, ok := b.Take("a", now); !ok {
				t.Fatal("refused within the burst")
			}
		}
		for range 5 {
			wait, ok := b.Take("a", now)
			if ok || wait <= 0 || wait > r.Every+2*time.Millisecond {
				t.Fatalf("got %v, %v after the burst at %v", wait, ok, r)
			}
			if _, ok := b.Take("a", now.Add(wait-3*time.Millisecond)); ok && wait > 3*time.Millisecond {
				t.Fatalf("let in 3 ms before its time of %v", wait)
			}
			if _, ok := b.Take("b", now); !ok && r.Burst > 5 {
				t.Fatal("another sender is held back")
			}
			now = now.Add(wait)
			if _, ok := b.Take("a", now); !ok {
				t.Fatalf("not let in after %v", wait)
			}
		}
	})
}

func TestNoLimitIsNone(t *testing.T) {
	b := New[int](Unlimited)
	for range 100_000 {
		if _, ok := b.Take(1, start); !ok {
			t.Fatal("refused")
		}
	}
}

func TestWhatIsRememberedIsBounded(t *testing.T) {
	b := New[int](Rate{time.Hour, 5})
	for i := range 3 * mostSenders {
		b.Take(i, start)
		if len(b.of) > mostSenders {
			t.Fatalf("%d senders are remembered", len(b.of))
		}
	}
	// Those whose bucket is full again go first; who sent lately is held to it.
	b = New[int](Rate{time.Second, 2})
	b.Take(-1, start.Add(time.Hour))
	b.Take(-1, start.Add(time.Hour))
	for i := range mostSenders - 1 {
		b.Take(i, start)
	}
	b.Take(-2, start.Add(time.Hour))
	if _, ok := b.Take(-1, start.Add(time.Hour)); ok {
		t.Error("who sent lately is forgotten with the others")
	}
}

func TestAHouseholdIsOneNetwork(t *testing.T) {
	for from, want := range map[string]string{
		"192.0.2.17":                     "192.0.2.17/32",
		"::ffff:192.0.2.17":              "192.0.2.17/32",
		"2001:db8:1:2:3:4:5:6":           "2001:db8:1:2::/64",
		"2001:db8:1:2:ffff:ffff:5:6":     "2001:db8:1:2::/64",
		"fe80::1%eth0":                   "fe80::/64",
		"2001:db8:1:3:ffff:ffff:5:6":     "2001:db8:1:3::/64",
		"::ffff:192.0.2.17%nonsense":     "192.0.2.17/32",
		"2001:db8:1:2:0:0:0:1%somewhere": "2001:db8:1:2::/64",
	} {
		if got := Network(netip.MustParseAddr(from)).String(); got != want {
			t.Errorf("%s: got %s, want %s", from, got, want)
		}
	}
	if got := Network(netip.Addr{}); got.IsValid() {
		t.Errorf("no address: got %v", got)
	}
}

func TestANetworkIsWrittenAsItIsSpokenOf(t *testing.T) {
	for ip, want := range map[string]string{"192.0.2.17": "192.0.2.17", "2001:db8:1:2:3:4:5:6": "2001:db8:1:2::/64"} {
		if got := NetworkText(Network(netip.MustParseAddr(ip))); got != want {
			t.Errorf("%s: got %s, want %s", ip, got, want)
		}
	}
	if got := NetworkText(netip.Prefix{}); got != "" {
		t.Errorf("no network: got %q", got)
	}
}
