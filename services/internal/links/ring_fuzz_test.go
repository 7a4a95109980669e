package links

import "testing"

// FuzzRing holds to it that the file of the keys gives whole keys or none, and
// that no refusal has any of it.
func FuzzRing(f *testing.F) {
	f.Add([]byte("1 00\n"))
	f.Add([]byte("4294967295 000102030405060708090a0b0c0d0e0f101112131415161718191a1b1c1d1e1f\n\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		ring, err := parseRing(text)
		if (err == nil) != (len(ring) > 0) {
			t.Errorf("%d keys beside %v", len(ring), err)
		}
		for _, k := range ring {
			if len(k.Secret) != KeySize {
				t.Errorf("a key of %d bytes", len(k.Secret))
			}
		}
	})
}
