package kv

import (
	"strings"
	"testing"

	"halfshaft/services/fault"
)

// FuzzRequestID holds to it that nothing but a UUID becomes a part of a key.
func FuzzRequestID(f *testing.F) {
	for _, id := range []string{"", "0190c5a2-7f3e-7b1d-9a44-2f6f0e6b8c11", "{0190c5a2-7f3e-7b1d-9a44-2f6f0e6b8c11}", "urn:uuid:0190c5a2-7f3e-7b1d-9a44-2f6f0e6b8c11", "0190c5a27f3e7b1d9a442f6f0e6b8c11", "../x"} {
		f.Add(id)
	}
	f.Fuzz(func(t *testing.T, id string) {
		err := CheckRequestID(id)
		if err != nil && !fault.Is(err, fault.Invalid) {
			t.Errorf("%q: %v", id, err)
		}
		if err == nil && strings.ContainsAny(id, "/\x00\n ") {
			t.Errorf("%q is taken", id)
		}
	})
}
