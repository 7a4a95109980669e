package owner

import (
	"strings"
	"testing"
)

// FuzzPlainCode holds to it that a code is eight and more letters of the list
// however it is typed, or none.
func FuzzPlainCode(f *testing.F) {
	for _, text := range []string{"ABCD-EFGH-JKLM", " abcd efgh jklm ", "ſſſſ", "ı", strings.Repeat("-", 100), "\u00a0"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		plain, ok := PlainCode(text)
		if !ok {
			if plain != "" {
				t.Errorf("%q is none, and %q", text, plain)
			}
			return
		}
		if len(plain) != codeLength || strings.Trim(plain, codeLetters) != "" {
			t.Errorf("%q is %q", text, plain)
		}
		if again, ok := PlainCode(plain); !ok || again != plain {
			t.Errorf("%q again is %q, %v", plain, again, ok)
		}
	})
}
