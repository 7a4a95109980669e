package vehicle_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

// slip makes one mistake in a serial, of a kind and at a place drawn by rapid.
func slip(t *rapid.T, serial vehicle.Serial) (kind, heard string) {
	s := []byte(serial)
	kind = rapid.SampledFrom([]string{"substitution", "neighbours", "across", "missing", "doubled"}).Draw(t, "kind")
	last := len(s) - 1
	switch kind {
	case "neighbours":
		last--
	case "across":
		last -= 2
	}
	i := rapid.IntRange(0, last).Draw(t, "place")
	switch kind {
	case "substitution":
		s[i] = rapid.SampledFrom([]byte(alphabet+"*?")).Draw(t, "character")
	case "neighbours":
		s[i], s[i+1] = s[i+1], s[i]
	case "across":
		s[i], s[i+2] = s[i+2], s[i]
	case "missing":
		s = slices.Delete(s, i, i+1)
	case "doubled":
		s = slices.Insert(s, i, s[i])
	}
	return kind, string(s)
}

func TestSlipsAlwaysContainTheTrueSerialAfterOneSlip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		serial := serials().Draw(t, "serial")
		kind, heard := slip(t, serial)
		if heard == string(serial) {
			return // equal characters swapped: no slip
		}
		found := vehicle.Slips(strings.ToLower(heard))
		if !slices.Contains(found, serial) {
			t.Fatalf("%s: Slips(%q) = %v, without %s", kind, heard, found, serial)
		}
	})
}

func TestSlipsAreValidAndNeverTwiceAndAlwaysInTheSameOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		heard := rapid.StringMatching(`[A-Z0-9?]{3,14}`).Draw(t, "heard")
		found := vehicle.Slips(heard)
		seen := map[vehicle.Serial]bool{}
		for _, s := range found {
			if !s.Valid() || seen[s] || string(s) == heard {
				t.Fatalf("Slips(%q) = %v: %s should not be there", heard, found, s)
			}
			seen[s] = true
		}
		if again := vehicle.Slips(heard); !slices.Equal(found, again) {
			t.Fatalf("Slips(%q) = %v, then %v", heard, found, again)
		}
	})
}

func TestLettersTakenForDigitsComeFirst(t *testing.T) {
	for _, c := range []struct {
		name, heard string
		want        vehicle.Serial
	}{
		{"the letter O for zero", "AMO147P", "AM0147P"},
		{"the letter I for one", "AM0I47P", "AM0147P"},
		{"both at once, each all through", "AMOI47P", "AM0147P"},
	} {
		if found := vehicle.Slips(c.heard); len(found) == 0 || found[0] != c.want {
			t.Errorf("%s: Slips(%q) = %v, want %s first", c.name, c.heard, found, c.want)
		}
	}
}

func TestNothingIsOneSlipAwayFromTextOfTheWrongLength(t *testing.T) {
	for _, heard := range []string{"", "A", "AB", "ABCDEFGHIJKLMNO", strings.Repeat("-", 500)} {
		if found := vehicle.Slips(heard); len(found) != 0 {
			t.Errorf("Slips(%q) = %v, want none", heard, found)
		}
	}
}
