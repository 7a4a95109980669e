package wording_test

import (
	"testing"

	"halfshaft/services/wording"
)

// The names are those of the Unicode CLDR.
func TestACountryIsCalledByItsName(t *testing.T) {
	for code, want := range map[string]string{
		"GB": "United Kingdom", "DE": "Germany", "CH": "Switzerland", "US": "United States", "AU": "Australia",
		"": "", "SU": "SU", "YU": "YU", "EU": "EU", "XX": "XX", "export": "export",
	} {
		if got := wording.Country(code); got != want {
			t.Errorf("%q: got %q, want %q", code, got, want)
		}
	}
}
