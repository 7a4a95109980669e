package reminderwords

import (
	"testing"

	"pgregory.net/rapid"
)

func TestWhatIsTakenForCleanIsLeftAsItIs(t *testing.T) {
	for text, want := range map[string]bool{
		"": true, "Engine oil": true, "Öl ablassen (heiß)": true, "ſ ɏ": true,
		" x": false, "x ": false, "a  b": false, "a\tb": false, "a\u00a0b": false, "a\u00adb": false, "\xff": false, "a\u200bb": false, "65 N·m": false,
	} {
		if got := isClean(text); got != want {
			t.Errorf("%q: got %v", text, got)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.StringMatching(`[ -~À-ɏ\x{80}-\x{bf}]{0,12}`), rapid.String()).Draw(t, "text")
		if cleaned := cleaned(text); isClean(text) && cleaned != text {
			t.Fatalf("%q is taken for clean, and is %q", text, cleaned)
		}
	})
}
