package page

import (
	"testing"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
)

// FuzzAfter holds to what is promised of any token: a key or a refusal that
// names the field; and what Token made of a key gives that key.
func FuzzAfter(f *testing.F) {
	request := &schedulev1.ListReadingsRequest{Parent: "vehicles/AM0147P"}
	f.Add(Token(request, "2026-05-01/r9"), "2026-05-01/r9")
	f.Add("!!!!", "\x00")
	f.Add("AAAAAAAAAAA", "/halfshaft/v1/")
	f.Fuzz(func(t *testing.T, token, key string) {
		if got, err := After(request, token); err != nil && (got != "" || !fault.Is(err, fault.Invalid)) {
			t.Errorf("%q: got %q, %v", token, got, err)
		}
		if got, err := After(request, Token(request, key)); key != "" && (err != nil || got != key) {
			t.Errorf("of the key %q: got %q, %v", key, got, err)
		}
	})
}
