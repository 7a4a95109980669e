package accessrpc

import (
	"errors"
	"slices"
	"testing"
)

func TestNamesGoInBatchesAndOnlyTheLastIsTheLast(t *testing.T) {
	for n, want := range map[int][]int{0: {0}, 1: {1}, batch: {batch}, batch + 1: {batch, 1}, 2*batch + 1: {batch, batch, 1}} {
		var got []int
		var lasts int
		err := inBatches(make([]string, n), func(part []string, last bool) error {
			if lasts > 0 {
				t.Errorf("%d: a part after the last", n)
			}
			if last {
				lasts++
			}
			got = append(got, len(part))
			return nil
		})
		if err != nil || lasts != 1 || !slices.Equal(got, want) {
			t.Errorf("%d: got %v, %d of them last, %v; want %v", n, got, lasts, err, want)
		}
	}
	broken := errors.New("broken")
	calls := 0
	if err := inBatches(make([]string, 2*batch), func([]string, bool) error { calls++; return broken }); !errors.Is(err, broken) || calls != 1 {
		t.Errorf("got %v after %d calls", err, calls)
	}
}
