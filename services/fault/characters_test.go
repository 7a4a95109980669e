package fault

import (
	"strings"
	"testing"
)

func TestATextIsAsLongAsItHasCharacters(t *testing.T) {
	for _, sign := range []string{"u", "ü", "軸", "🚙", "\xff"} {
		if text := strings.Repeat(sign, 500); Longer(text, 500) || !Longer(text, 499) || !Longer(text+sign, 500) {
			t.Errorf("500 of %q are not 500 characters", sign)
		}
	}
	if Longer("", 0) {
		t.Error("nothing is longer than nothing")
	}
}

func TestALengthIsSaidWithItsDigitsInGroups(t *testing.T) {
	for n, want := range map[int]string{
		0: "0 characters", 1: "1 character", 2: "2 characters", 999: "999 characters", 1000: "1,000 characters",
		12_345: "12,345 characters", 1_234_567: "1,234,567 characters",
	} {
		if got := Characters(n); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	if got := Length(strings.Repeat("ü", 2001)); got != "2,001 characters" {
		t.Errorf("got %q", got)
	}
	if got := AtMost(4000); got != "at most 4,000 characters" {
		t.Errorf("got %q", got)
	}
}
