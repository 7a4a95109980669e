package ownerstore

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/owner"
)

// The steps that follow the decision fail, one after the other and the same one
// twice, for want of the store or the disk; nobody starts the process anew.
func TestAnErasureThatFailsAfterItsDecisionGoesOnByItself(t *testing.T) {
	for _, step := range []string{"decided", "keys kept", "some wrapped", "swept", "new key named", "old key overwritten", "new key in place"} {
		t.Run(step, func(t *testing.T) {
			o := newOffice(t)
			for _, id := range sixPeople[:3] {
				o.fill(t, id)
			}
			o.crowd(t)
			before, err := LoadMasterKey(o.path)
			if err != nil {
				t.Fatal(err)
			}
			var mu sync.Mutex
			var pauses []time.Duration
			o.pause = func(_ context.Context, d time.Duration) error {
				mu.Lock()
				defer mu.Unlock()
				pauses = append(pauses, d)
				return nil
			}
			failed := 0
			o.cut = func(at string) error {
				if at == step && failed < 2 {
					failed++
					return errPowerCut
				}
				return nil
			}
			if err := o.erase(t, o.Store, "p002"); !errors.Is(err, errPowerCut) {
				t.Fatalf("got %v", err)
			}
			for n := 0; ; n++ { // until somebody new is taken in
				p := owner.Person{ID: fmt.Sprintf("n%d", n), FullName: "New", TimeZone: "UTC"}
				if _, _, err := o.CreatePerson(t.Context(), p, "", nil); err == nil {
					break
				} else if !fault.Is(err, fault.Unavailable) && !fault.Is(err, fault.Aborted) {
					t.Fatal(err)
				}
			}
			if err := o.Finish(t.Context()); err != nil { // waits for a try that is under way
				t.Fatal(err)
			}
			o.wantErased(t, o.Store, "p002")
			o.wantSettled(t, o.Store, before)
			mu.Lock()
			defer mu.Unlock()
			if len(pauses) == 0 || !slices.IsSorted(pauses) || pauses[0] != firstPause {
				t.Errorf("it was tried again after %v", pauses)
			}
		})
	}
}

// Whoever erases somebody else before the new master key is in its place must
// not destroy the one file that holds it.
func TestAnotherErasureFirstPutsTheNewMasterKeyInPlace(t *testing.T) {
	o := newOffice(t)
	for _, id := range sixPeople[:3] {
		o.fill(t, id)
	}
	o.cut = cutAfter("new key named", 1)
	if err := o.erase(t, o.Store, "p001"); !errors.Is(err, errPowerCut) {
		t.Fatalf("got %v", err)
	}
	next, err := LoadMasterKey(o.nextPath())
	if err != nil {
		t.Fatal(err)
	}
	o.cut = func(at string) error {
		if at == "new key written" {
			return errPowerCut
		}
		return nil
	}
	if err := o.erase(t, o.Store, "p002"); !errors.Is(err, errPowerCut) {
		t.Fatalf("got %v", err)
	}
	if m, err := LoadMasterKey(o.path); err != nil || m.ID() != next.ID() {
		t.Fatalf("the master key of the store is gone: %v", err)
	}
	o.Close()
	s := o.open(t, o.etcd.Client())
	o.wantErased(t, s, "p001")
	wantWhole(t, s, "p002")
	wantWhole(t, s, "p003")
}

func TestClosingDoesNotWaitForAPause(t *testing.T) {
	o := newOffice(t)
	o.fill(t, "p001")
	o.pause = pauseFor
	o.cut = cutAfter("decided", 1)
	if err := o.erase(t, o.Store, "p001"); !errors.Is(err, errPowerCut) {
		t.Fatalf("got %v", err)
	}
	begun := time.Now()
	o.Close()
	if took := time.Since(begun); took >= firstPause {
		t.Errorf("it took %v", took)
	}
}
