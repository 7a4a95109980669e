package exchange

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestAMisspeltTableIsNearWhatItMeans(t *testing.T) {
	for name, want := range map[string]string{
		"supersesions": "supersessions", "capacity": "capacities", "Aplication": "applications", "setings 2024": "settings",
		"part": "parts", "shim size": "shim_sizes", "roadtests": "road_test", "peolpe": "people", "prats": "parts",
		"how to use this": "", "shopping": "", "7": "", "": "",
	} {
		if got := strings.Join(NearTables(name), " "); got != want {
			t.Errorf("%q is near %q, want %q", name, got, want)
		}
	}
}

// The plain recursion of the definition counts the same slips.
func TestSlipsAreCountedAsTheDefinitionDoes(t *testing.T) {
	var plainly func(a, b string) int
	plainly = func(a, b string) int {
		if a == "" || b == "" {
			return len(a) + len(b)
		}
		if a[0] == b[0] {
			return plainly(a[1:], b[1:])
		}
		least := min(plainly(a[1:], b), plainly(a, b[1:]), plainly(a[1:], b[1:]))
		if len(a) > 1 && len(b) > 1 && a[0] == b[1] && a[1] == b[0] {
			least = min(least, plainly(a[2:], b[2:]))
		}
		return 1 + least
	}
	word := rapid.StringMatching(`[ab]{0,5}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		if got, want := slips(a, b), plainly(a, b); got != want {
			t.Errorf("%q to %q: %d slips, want %d", a, b, got, want)
		}
	})
}
