package accessaudit

import (
	"slices"
	"testing"

	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/audit"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

func TestLinesAreGivenFromAnyPlaceEitherWay(t *testing.T) {
	const n = 2*pageLines + 3 // three pages either way
	store := kv.NewStore(etcdtest.Client(t))
	s := NewStore(store)
	var end audit.Checkpoint
	for end.Sequence < n {
		txn := kv.NewTxn()
		for txn.Len() < kv.MaxOps && end.Sequence < n {
			line, err := audit.Seal(end, change(int(end.Sequence)).Text())
			if err != nil {
				t.Fatal(err)
			}
			txn.Put(lineKey(line.Sequence), accesswire.SealedProto(line))
			end = line.Checkpoint()
		}
		if _, err := store.Commit(t.Context(), txn); err != nil {
			t.Fatal(err)
		}
	}
	for _, from := range []int64{0, 1, 2, pageLines, pageLines + 1, pageLines + 2, n - 1, n, n + 1, n + pageLines} {
		var after, before []int64 // what ought to come
		for i := int64(1); i <= n; i++ {
			if i > from {
				after = append(after, i)
			}
			if i < from {
				before = append(before, i)
			}
		}
		slices.Reverse(before)
		for _, c := range []struct {
			latest bool
			want   []int64
		}{{false, after}, {true, before}} {
			for _, most := range []int{n, 1} {
				var got []int64
				for l, err := range s.Lines(t.Context(), Span{From: from, Latest: c.latest}) {
					if err != nil {
						t.Fatal(err)
					}
					if got = append(got, l.Sequence); len(got) == most {
						break
					}
				}
				if want := c.want[:min(most, len(c.want))]; !slices.Equal(got, want) {
					t.Errorf("%d from %d, latest first %v: got %v, want %v", most, from, c.latest, got, want)
				}
			}
		}
	}
}
