package access

import (
	"strings"
	"testing"
)

// FuzzSecretID holds to it that what callers show as a key is looked up by its
// eight characters, or by nothing.
func FuzzSecretID(f *testing.F) {
	_, secret, err := NewSecret(strings.NewReader(strings.Repeat("halfshaft", 10)))
	if err != nil {
		f.Fatal(err)
	}
	for _, s := range []string{secret, secret[1:], "", secretMark, strings.Repeat("_", secretLength)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, secret string) {
		id, ok := SecretID(secret)
		if ok != (id != "") || ok && (len(id) != idLength || !strings.HasPrefix(secret, secretMark+id+"_")) {
			t.Errorf("%q: got %q, %v", secret, id, ok)
		}
	})
}
