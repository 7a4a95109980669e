package typeset

import (
	"slices"
	"testing"
)

func TestLinesAreWrappedAtSpacesOnly(t *testing.T) {
	m := func(s string) float64 { return float64(len([]rune(s))) }
	for text, want := range map[string][]string{
		"":                       nil,
		"one two":                {"one two"},
		"one two three four":     {"one two", "three four"},
		"abcdefghijklmnop q":     {"abcdefghij", "klmnop q"},
		"one 10\u00a0000 km far": {"one 10\u00a0000", "km far"},
	} {
		if got := Wrap(text, 10, m); !slices.Equal(got, want) {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}
