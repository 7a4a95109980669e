package kv

import (
	"context"
	"testing"

	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
)

// A request id and what was sent with it may be learnt; what came of it was for
// whoever asked.
func TestWhatWasAnsweredToOneIsAnsweredAgainToNobodyElse(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	of := func(who string) context.Context {
		if who == "" {
			return t.Context()
		}
		return WithAsker(t.Context(), who)
	}
	request, answer := str("void the entry"), str("what Ada said")
	for i, first := range []string{"people/p1", "organisations/ferncombe", ""} {
		id := id1[:len(id1)-1] + string(rune('1'+i))
		txn := func() *Txn {
			return NewTxn().PutBytes("/halfshaft/v1/build/before/"+id, nil).Once("build", id, request, answer).PutBytes(key1+id, nil)
		}
		if r, err := s.Commit(of(first), txn()); err != nil || r.Replayed {
			t.Fatalf("%q: %v, %v", first, r, err)
		}
		for _, again := range []string{"people/p1", "people/p2", "organisations/ferncombe", ""} {
			r, err := s.Commit(of(again), txn())
			looked, found, errLook := s.Lookup(of(again), "build", id, request)
			if again != first {
				wantFault(t, err, fault.Invalid, "REQUEST_ID_REUSED")
				wantFault(t, errLook, fault.Invalid, "REQUEST_ID_REUSED")
				if len(r.Answer)+len(looked.Answer) > 0 {
					t.Errorf("%q is given what %q was answered", again, first)
				}
				continue
			}
			if err != nil || errLook != nil || !r.Replayed || !found || len(r.Answer) == 0 || string(r.Answer) != string(looked.Answer) {
				t.Errorf("%q again: %v, %v; %v, %v", first, r, err, looked, errLook)
			}
		}
		// The same transaction once more, as after an outcome that is not known.
		once := txn()
		for range 2 {
			if r, err := s.Commit(of(first), once); err != nil || !r.Replayed {
				t.Errorf("%q twice: %v, %v", first, r, err)
			}
		}
	}
}
