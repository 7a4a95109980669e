package typeset

import (
	"strings"
	"testing"
)

// A tilde stands for the space that no line ends at.
func TestANumberIsNotPartedFromItsUnit(t *testing.T) {
	for text, want := range map[string]string{
		"after 30 to 100 miles (50 to 160 km), not": "after 30 to 100~miles (50 to 160~km), not",
		"no more than 5 % ethanol":                  "no more than 5~% ethanol",
		"than 30 mph (50 km/h).":                    "than 30~mph (50~km/h).",
		"100 to 115 N·m (74 to 85 lbf·ft)":          "100 to 115~N·m (74 to 85~lbf·ft)",
		"3,000 miles or 12 months":                  "3,000~miles or 12~months",
		"2 × AP-1010 Oil filter":                    "2~×~AP-1010 Oil filter",
		"low range *; Return to the road *":         "low range~*; Return to the road~*",
		"* An owner can do it.":                     "* An owner can do it.",
		"in 10 mice and 3 legs":                     "in 10 mice and 3 legs",
	} {
		if got := strings.ReplaceAll(Unparted(text), "\u00a0", "~"); got != want {
			t.Errorf("unparted %q: got %q, want %q", text, got, want)
		}
	}
}
