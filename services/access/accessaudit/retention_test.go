package accessaudit

import (
	"fmt"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/access/audit"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
)

// years seals a line for each month of three years: changes, and every second
// one a reading.
func years(t *testing.T) (*kv.Store, *Store, kv.Fence) {
	t.Helper()
	return months(t, 36)
}

func months(t *testing.T, count int) (*kv.Store, *Store, kv.Fence) {
	t.Helper()
	store := kv.NewStore(etcdtest.Client(t))
	s := NewStore(store)
	fence, _ := elected(t, store.Client())
	for n := range count {
		l := change(n)
		l.Time = march.AddDate(0, n, 0)
		if n%2 == 1 {
			l.Outcome = audit.Read
		}
		if _, err := store.Commit(t.Context(), kv.NewTxn().PutBytes(newPendingKey(), []byte(l.Text()))); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.sealAll(t.Context(), clock, fence); err != nil {
		t.Fatal(err)
	}
	return store, s, fence
}

func TestTextsGoWhenTheirTimeIsOverAndTheChainStaysWhole(t *testing.T) {
	_, s, fence := years(t)
	for _, c := range []struct {
		today       vehicle.Date
		gone, index int
	}{
		{vehicle.MustDate(2028, 4, 3), 0, 36}, // the reading of 3 April 2026 is kept this day
		{vehicle.MustDate(2028, 4, 4), 1, 35}, // and not the next
		{vehicle.MustDate(2029, 4, 4), 7, 29}, // six more readings
		{vehicle.MustDate(2036, 3, 3), 18, 18},
		{vehicle.MustDate(2036, 3, 4), 19, 17}, // the first change
		{vehicle.MustDate(2050, 1, 1), 36, 0},
	} {
		if _, err := s.Trim(t.Context(), c.today, fence); err != nil {
			t.Fatal(err)
		}
		_, r := proof(t, s, c.today)
		if !r.Whole() || r.Lines != 36 || int(r.Removed) != c.gone {
			t.Errorf("on %s: %d of %d texts gone, want %d; faults %v", c.today, r.Removed, r.Lines, c.gone, r.Faults)
		}
		if index, err := s.About(t.Context(), Span{From: 1 << 40, Latest: true}, "people/p0031", 100); err != nil || len(index) != c.index {
			t.Errorf("on %s: %d in the index, want %d, %v", c.today, len(index), c.index, err)
		}
		if n, err := s.Trim(t.Context(), c.today, fence); n != 0 || err != nil {
			t.Errorf("on %s a second time: %d, %v", c.today, n, err)
		}
	}
}

func TestLinesThatComeToADayWhileItIsTrimmedAreLeftToTheNextCall(t *testing.T) {
	store, s, fence := months(t, 1)
	_, before := proof(t, s, vehicle.MustDate(2050, 1, 1))
	days, err := store.Client().Get(t.Context(), keptPrefix, clientv3.WithPrefix())
	if err != nil || len(days.Kvs) != 1 {
		t.Fatalf("days: %v, %v", days, err)
	}
	if _, err := store.Commit(t.Context(), kv.NewTxn().PutBytes(newPendingKey(), []byte(change(0).Text()))); err != nil {
		t.Fatal(err)
	}
	if _, err := s.sealAll(t.Context(), clock, fence); err != nil {
		t.Fatal(err)
	}
	if n, err := s.trimDay(t.Context(), days.Kvs[0], fence); n != 1 || err != nil {
		t.Errorf("by the day as it was: %d trimmed, %v", n, err)
	}
	if n, err := s.Trim(t.Context(), vehicle.MustDate(2050, 1, 1), fence); n != 1 || err != nil {
		t.Errorf("the next call: %d trimmed, %v", n, err)
	}
	if _, r := proof(t, s, vehicle.MustDate(2050, 1, 1)); !r.Whole() || r.Removed != before.Removed+2 {
		t.Errorf("in the end: %d removed, %v", r.Removed, r.Faults)
	}
}

func TestATextThatIsGoneBeforeItsTimeIsNamed(t *testing.T) {
	_, s, fence := years(t)
	if _, err := s.Trim(t.Context(), vehicle.MustDate(2029, 4, 4), fence); err != nil {
		t.Fatal(err)
	}
	if _, r := proof(t, s, vehicle.MustDate(2028, 4, 3)); len(r.Faults) != 7 || r.Faults[0].Sequence != 2 {
		t.Errorf("got %v", r.Faults)
	}
}

func TestRemovingSurvivesTheEndOfItsProcessAtEveryPoint(t *testing.T) {
	today := vehicle.MustDate(2036, 3, 4)
	for _, after := range []bool{false, true} {
		for at := 1; ; at++ {
			store, s, fence := months(t, 12)
			victim, m := mortalStore(store.Client(), at, after)
			_, err := victim.Trim(t.Context(), today, fence)
			if m.calls < at {
				if err != nil || at < 15 {
					t.Fatalf("it ended after %d calls: %v", m.calls, err)
				}
				break
			}
			if err == nil {
				t.Fatal("the victim did not notice its death")
			}
			if _, err := s.Trim(t.Context(), today, fence); err != nil {
				t.Fatal(err)
			}
			if _, r := proof(t, s, today); !r.Whole() || r.Removed != 7 {
				t.Fatalf("cut at call %d: %d texts gone, faults %v", at, r.Removed, r.Faults)
			}
			if at > 8 {
				at += 3 // the days are all alike
			}
		}
	}
}

func TestAStaleLeaderRemovesNothing(t *testing.T) {
	_, s, fence := years(t)
	fence.CreateRevision++
	if n, err := s.Trim(t.Context(), vehicle.MustDate(2050, 1, 1), fence); err == nil {
		t.Errorf("it removed %d texts", n)
	}
	if _, r := proof(t, s, vehicle.MustDate(2050, 1, 1)); r.Removed != 0 {
		t.Errorf("%d texts are gone", r.Removed)
	}
}

func TestALineThatComesLateToADayIsRemovedToo(t *testing.T) {
	store, s, fence := years(t)
	today := vehicle.MustDate(2050, 1, 1)
	if _, err := s.Trim(t.Context(), today, fence); err != nil {
		t.Fatal(err)
	}
	late := change(1)
	late.Time = march.Add(time.Hour)
	for range 3 {
		if _, err := store.Commit(t.Context(), kv.NewTxn().PutBytes(newPendingKey(), []byte(late.Text()))); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.sealAll(t.Context(), clock, fence); err != nil {
		t.Fatal(err)
	}
	n, err := s.Trim(t.Context(), today, fence)
	if err != nil || n != 3 {
		t.Fatal(n, err)
	}
	if _, r := proof(t, s, today); !r.Whole() || r.Removed != 39 {
		t.Error(fmt.Sprint(r))
	}
}

func TestAChangeBetweenReadingsOfOneDayKeepsItsText(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	s := NewStore(store)
	fence, _ := elected(t, store.Client())
	for n := range 9 {
		l := change(n)
		if n%2 == 0 {
			l.Outcome = audit.Read
		}
		if _, err := store.Commit(t.Context(), kv.NewTxn().PutBytes(newPendingKey(), []byte(l.Text()))); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.sealAll(t.Context(), clock, fence); err != nil {
		t.Fatal(err)
	}
	today := vehicle.MustDate(2028, 3, 4)
	if n, err := s.Trim(t.Context(), today, fence); n != 5 || err != nil {
		t.Errorf("%d texts removed, %v; want the five readings", n, err)
	}
	if _, r := proof(t, s, today); !r.Whole() || r.Removed != 5 {
		t.Errorf("got %+v", r)
	}
}
