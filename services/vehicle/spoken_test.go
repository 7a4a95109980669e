package vehicle_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

func TestASerialIsReadAsItIsSpelledOnTheTelephone(t *testing.T) {
	for _, c := range []struct{ said, want string }{
		{"alpha mike zero one four seven papa", "AM0147P"},
		{"Alfa Mike zero one four seven Papa", "AM0147P"},
		{"alpha, mike", ""}, // a comma is none of the separators
		{"alpha mike 0147 papa", "AM0147P"},
		{"A M zero one four seven P", "AM0147P"},
		{"alfa mike zero one one nine x-ray", "AM0119X"},
		{"alfa mike zero one one niner xray", "AM0119X"},
		{"alpha mike zero double one niner x ray", "AM0119X"},
		{"alpha mike nought one four seven papa", "AM0147P"},
		{"alpha mike oh one four seven papa", ""},     // the letter was said
		{"alpha mike zero one four seven", ""},        // no check character
		{"alpha mike zero one four seven quebec", ""}, // a wrong one
		{"alpha mike zero one forty seven papa", ""},  // nobody spells by forty
		{"alpha mike zero double", ""},
		{"alpha mike double 0147 papa", ""},
		{"mike", ""},
		{"", ""},
	} {
		got, err := vehicle.ParseSerial(c.said)
		if string(got) != c.want || (c.want == "") != (err != nil) {
			t.Errorf("%q: got %q, %v; want %q", c.said, got, err, c.want)
		}
		if err != nil && !fault.Is(err, fault.Invalid) {
			t.Errorf("%q: refused by %v", c.said, err)
		}
	}
}

func TestWhatIsSpelledAsideIsNamedToStaff(t *testing.T) {
	for _, said := range []string{"alpha mike oh one four seven papa", "alpha mike zero one four seven", "alpha mike zero one four seven quebec"} {
		if near := vehicle.Slips(said); !slices.Contains(near, "AM0147P") {
			t.Errorf("%q: near it are %v", said, near)
		}
	}
}

// Whatever serial there is, spelled as we spell it it is itself.
func TestEverySerialIsHeardAsItIsSpoken(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		body := rapid.StringMatching(`[A-Z][A-Z0-9]{2,11}`).Draw(t, "body")
		s, err := vehicle.NewSerial(body)
		if err != nil {
			t.Skip("never issued")
		}
		for _, said := range []string{s.Spoken(), strings.ToLower(s.Spoken()), strings.ReplaceAll(s.Spoken(), " ", "-")} {
			if got, err := vehicle.ParseSerial(said); err != nil || got != s {
				t.Fatalf("%q: got %q, %v; want %q", said, got, err, s)
			}
		}
	})
}

// A serial that stands there is never heard as another.
func TestWhatIsWrittenIsNeverHeardAsAnother(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, err := vehicle.NewSerial(rapid.SampledFrom([]string{"MIKE", "ONE1", "TREE", "XRAY", "GOLF99", "AM0147"}).Draw(t, "body"))
		if err != nil {
			t.Skip("never issued")
		}
		at := rapid.IntRange(0, len(s)).Draw(t, "at")
		if got, err := vehicle.ParseSerial(string(s[:at]) + " " + string(s[at:])); err == nil && got != s {
			t.Fatalf("%s in two at %d is heard as %s", s, at, got)
		}
	})
}
