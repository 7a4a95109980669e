package resname

import (
	"testing"

	"halfshaft/services/fault"
)

func TestANameMatchesItsPatternOrIsRefused(t *testing.T) {
	for _, c := range []struct {
		pattern, name string
		want          []string
	}{
		{"releases/{release}", "releases/R3", []string{"R3"}},
		{"programmes/{programme}/versions/{version}", "programmes/packhorse/versions/2", []string{"packhorse", "2"}},
		{"releases/{release}", "releases/", nil},
		{"releases/{release}", "releases/R3/more", nil},
		{"releases/{release}", "parts/R3", nil},
		{"releases/{release}", "releases/R 3", nil},
		{"releases/{release}", "releases/R\n3", nil},
	} {
		got, err := Match("name", c.pattern, c.name)
		if c.want == nil {
			if !fault.Is(err, fault.Invalid) {
				t.Errorf("Match(%q): got %v, %v; want a refusal", c.name, got, err)
			}
			continue
		}
		if err != nil || len(got) != len(c.want) || got[0] != c.want[0] || got[len(got)-1] != c.want[len(c.want)-1] {
			t.Errorf("Match(%q): got %v, %v; want %v", c.name, got, err, c.want)
		}
	}
}

func TestASerialIsReadInAnyFormAndAWrongOneIsNamed(t *testing.T) {
	for _, name := range []string{"builds/AM0147P", "builds/am0147p", "builds/AM 0147 P", "builds/am-0147-p"} {
		serial, rest, err := Serial("name", "builds/{serial}", name)
		if err != nil || serial != "AM0147P" || len(rest) != 0 {
			t.Errorf("Serial(%q): got %q, %v, %v", name, serial, rest, err)
		}
	}
	serial, rest, err := Serial("name", "builds/{serial}/changes/{change}", "builds/am 0147 p/changes/c1")
	if err != nil || serial != "AM0147P" || len(rest) != 1 || rest[0] != "c1" {
		t.Errorf("got %q, %v, %v", serial, rest, err)
	}
	for _, name := range []string{"builds/AM0147Q", "builds/", "vehicles/AM0147P", "builds/AM0147P/x"} {
		if _, _, err := Serial("name", "builds/{serial}", name); !fault.Is(err, fault.Invalid) {
			t.Errorf("Serial(%q): got %v, want a refusal", name, err)
		}
	}
}
