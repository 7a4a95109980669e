package desk

import "testing"

func TestAnIdentifierIsSaidAsItStandsOnACan(t *testing.T) {
	for id, want := range map[string]string{"gear-oil-gl4": "gear oil GL4", "front-axle-differential": "front axle differential", "glycol-dot4": "glycol DOT4", "glider": "glider"} {
		if got := place(id); got != want {
			t.Errorf("%s: got %q, want %q", id, got, want)
		}
	}
}
