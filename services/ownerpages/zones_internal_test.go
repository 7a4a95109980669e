package ownerpages

import (
	"testing"
	"time"

	"golang.org/x/text/language"
)

// The names are held to the time-zone data in use, and the codes to ISO 3166
// as CLDR has it.
func TestEveryOfferedZoneExists(t *testing.T) {
	seen := map[string]bool{}
	for region, all := range zones {
		if r, err := language.ParseRegion(region); err != nil || !r.IsCountry() || r.Canonicalize() != r {
			t.Errorf("%s is no country", region)
		}
		for _, zone := range all {
			if _, err := time.LoadLocation(zone); err != nil || seen[zone] {
				t.Errorf("%s: %v, or twice", zone, err)
			}
			seen[zone] = true
			if got, ok := regionOf(zone); !ok || got != region {
				t.Errorf("%s is in %s, want %s", zone, got, region)
			}
		}
	}
}
