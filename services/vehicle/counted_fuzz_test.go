package vehicle

import (
	"strings"
	"testing"

	"halfshaft/services/fault"
)

// FuzzParseCounted holds to it that a list of shims is sizes with how many, or a
// refusal.
func FuzzParseCounted(f *testing.F) {
	for _, text := range []string{"0.25 mm x2; 0.13 mm", "2 × 0.25 mm + 0.13 mm (AP-2074)", "x", "0.25 mm x999999999", ";;;", "\xff", "1 x 1 x 1"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		all, err := ParseCounted(text)
		if err != nil && (all != nil || !fault.Is(err, fault.Invalid)) {
			t.Errorf("%q: got %v, %v", text, all, err)
		}
		for _, c := range all {
			if c.Count < 0 || c.Count > 999_999_999 || strings.ContainsAny(c.Part, " ();,+") {
				t.Errorf("%q: got %+v", text, c)
			}
		}
	})
}

// FuzzParseBody holds to it that the number of a new vehicle becomes letters and
// digits that can be numbered on, or a refusal.
func FuzzParseBody(f *testing.F) {
	for _, text := range []string{"AM0147", "am-0147", "AM 9999", "0147", "", "*", "ÄM0147", strings.Repeat("A", 100)} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		body, err := ParseBody(text)
		if err != nil {
			if body != "" || !fault.Is(err, fault.Invalid) {
				t.Errorf("%q: got %q, %v", text, body, err)
			}
			return
		}
		if again, err := ParseBody(body); err != nil || again != body {
			t.Errorf("%q again: %q, %v", body, again, err)
		}
		if next, ok := NextIssuable(body); ok && !next.Valid() {
			t.Errorf("behind %q is %q", body, next)
		}
	})
}
