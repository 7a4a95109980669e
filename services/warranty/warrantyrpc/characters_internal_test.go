package warrantyrpc

import (
	"strings"
	"testing"
)

func TestANoteIsLimitedInCharacters(t *testing.T) {
	c := &checker{}
	if c.note("reason", strings.Repeat("ü", maxNote)); c.err() != nil {
		t.Errorf("%d characters: %v", maxNote, c.err())
	}
	if c.note("reason", strings.Repeat("ü", maxNote+1)); c.err() == nil || !strings.HasSuffix(c.err().Error(), "at most 2,000 characters") {
		t.Errorf("%d characters: %v", maxNote+1, c.err())
	}
}
