package desk

import (
	"testing"

	"halfshaft/services/wording"
)

func TestATextBeginsWithACapitalInEveryAlphabet(t *testing.T) {
	for text, want := range map[string]string{"": "", "a": "A", "owner": "Owner", "Öl": "Öl", "öl at the hub": "Öl at the hub", "émigré": "Émigré", "4 items": "4 items"} {
		if got := wording.UpperFirst(text); got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
}

func TestAnIdentifierIsSaidAsItStandsOnACan(t *testing.T) {
	for id, want := range map[string]string{"gear-oil-gl4": "gear oil GL4", "front-axle-differential": "front axle differential", "glycol-dot4": "glycol DOT4", "glider": "glider"} {
		if got := place(id); got != want {
			t.Errorf("%s: got %q, want %q", id, got, want)
		}
	}
}
