package enquiryrpc

import (
	"testing"

	"halfshaft/services/fault"
)

// FuzzPlace holds to it that a token's place, and a rank, is read as it was
// written or refused.
func FuzzPlace(f *testing.F) {
	for _, s := range []string{"", "1/vehicles/AM0147P/enquiries/e1", "600/1/vehicles/AM0147P/enquiries/e1", "x/y", "1/vehicles/AM0147P"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if p, err := parsePlace(text); err == nil && p.some {
			if again, err := parsePlace(p.String()); err != nil || again.name != p.name || !again.at.Equal(p.at) {
				t.Errorf("%q: %+v, then %+v, %v", text, p, again, err)
			}
		} else if err != nil && !fault.Is(err, fault.Invalid) {
			t.Errorf("%q: %v", text, err)
		}
		if r, err := parseRank(text); err == nil {
			if again, err := parseRank(rankOf(r)); err != nil || again.Key != r.Key || again.Score != r.Score {
				t.Errorf("%q: %+v, then %+v, %v", text, r, again, err)
			}
		} else if !fault.Is(err, fault.Invalid) {
			t.Errorf("%q: %v", text, err)
		}
	})
}
