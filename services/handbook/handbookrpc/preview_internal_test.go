package handbookrpc

import (
	"errors"
	"fmt"
	"testing"

	"halfshaft/services/handbook"
)

func TestATextThatWasReadIsKeptUnderItsHashAndNoMoreThanSome(t *testing.T) {
	var texts readTexts
	reads := 0
	read := func(digest string) func() (*handbook.Handbook, error) {
		return func() (*handbook.Handbook, error) { reads++; return &handbook.Handbook{Title: digest}, nil }
	}
	for i := range 2 * mostRead {
		digest := fmt.Sprint(i)
		for range 2 {
			if h, err := texts.get(digest, read(digest)); err != nil || h.Title != digest {
				t.Fatalf("%s: got %v, %v", digest, h, err)
			}
		}
	}
	if reads != 2*mostRead || len(texts.by) != mostRead {
		t.Errorf("%d were read and %d are kept, want %d and %d", reads, len(texts.by), 2*mostRead, mostRead)
	}
	damaged := errors.New("damaged")
	for range 2 { // what cannot be read is tried again: the file may be copied back
		if h, err := texts.get("x", func() (*handbook.Handbook, error) { return nil, damaged }); h != nil || !errors.Is(err, damaged) {
			t.Errorf("got %v, %v", h, err)
		}
	}
}
