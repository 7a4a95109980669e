package schedulestore

import (
	"bytes"
	"maps"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// A plain map is the second implementation.
func TestPackedRecordsAreWhatAMapHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p packed
		want := map[string]Stored{}
		for range rapid.IntRange(1, 8).Draw(t, "transactions") {
			var changes []change
			for range rapid.IntRange(0, 6).Draw(t, "changes") {
				id := rapid.SampledFrom([]string{"", "a", "ab", "b", "c", "0192f0", "zz"}).Draw(t, "id")
				c := change{Stored: Stored{ID: []byte(id), Revision: rapid.Int64Range(1, 1<<40).Draw(t, "revision")}}
				if c.gone = rapid.Bool().Draw(t, "gone"); c.gone {
					delete(want, id)
				} else {
					c.Value = rapid.SliceOfN(rapid.Byte(), 0, 300).Draw(t, "value")
					want[id] = c.Stored
				}
				changes = append(changes, c)
			}
			before := bytes.Clone(p)
			next := p.with(changes)
			if !bytes.Equal(before, p) {
				t.Fatal("what was packed before was changed")
			}
			p = next
		}
		var in []Stored
		for _, id := range slices.Sorted(maps.Keys(want)) {
			in = append(in, want[id])
		}
		if diff := cmp.Diff(in, slices.Collect(p.all()), cmp.Comparer(bytes.Equal)); diff != "" {
			t.Error(diff)
		}
		if p.count() != len(want) {
			t.Errorf("count: got %d, want %d", p.count(), len(want))
		}
	})
}
