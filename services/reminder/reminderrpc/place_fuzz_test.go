package reminderrpc

import "testing"

// FuzzPlace holds to it that a place in a list, which comes back in a token, is
// one that was written or a refusal.
func FuzzPlace(f *testing.F) {
	for _, text := range []string{"", "AM0147P/1777626000000000/a1", "//", "AM0147P/x/y", "AM0147P/9223372036854775807/z"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, err := parsePlace(text)
		if err != nil {
			return
		}
		if again, err := parsePlace(p.String()); text != "" && (err != nil || again.compare(p) != 0) {
			t.Errorf("%q is %v and again %v, %v", text, p, again, err)
		}
	})
}
