package ownerpages

import (
	"context"
	"net/http/httptest"
	"testing"
)

// Only so many forms with a photograph are read at once; the next one waits for
// one to end.
func TestFewFormsWithAPhotographAreReadAtOnce(t *testing.T) {
	p := &pages{uploads: make(chan struct{}, uploadsAtOnce)}
	r := httptest.NewRequestWithContext(t.Context(), "POST", "/l/x", nil)
	var leave func()
	for n := range uploadsAtOnce {
		var ok bool
		if leave, ok = p.admit(r); !ok {
			t.Fatalf("form %d is not read", n+1)
		}
	}
	gone, hangUp := context.WithCancel(t.Context())
	hangUp()
	if _, ok := p.admit(r.WithContext(gone)); ok {
		t.Error("one more is read")
	}
	leave()
	if _, ok := p.admit(r); !ok {
		t.Error("one has ended, and no other is read")
	}
}
