package desk

import (
	"testing"

	"halfshaft/services/fault"
)

// A refusal may begin with what was typed, in any letters.
func TestARefusalIsASentenceWhateverItBeginsWith(t *testing.T) {
	for message, want := range map[string]string{
		"no such day": "No such day.", "öl is none": "Öl is none.", "“stale” is none": "“stale” is none.", "": "",
	} {
		if got := sentence(&fault.Error{Kind: fault.Invalid, Message: message}); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}
