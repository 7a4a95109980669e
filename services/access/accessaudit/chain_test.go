package accessaudit

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"go.etcd.io/etcd/client/v3/concurrency"
	"go.uber.org/goleak"

	"halfshaft/services/access"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var march = time.Date(2026, time.March, 3, 10, 15, 0, 0, time.UTC)

func clock() time.Time { return march }

func change(n int) audit.Line {
	return audit.Line{
		Time: march, Actor: fmt.Sprint("bench ", n), Role: access.Engineer, Method: "/halfshaft.build.v1.BuildService/AmendBuild",
		Objects: []string{fmt.Sprintf("builds/AM%04dX", n%7), "people/p0031"}, Outcome: audit.Changed,
	}
}

// pend writes pending lines as changes do, each in a transaction of its own.
func pend(t *testing.T, store *kv.Store, from, to int) {
	t.Helper()
	for n := from; n < to; n++ {
		w := kv.NewWitness(newPendingKey(), []byte(change(n).Text()))
		ctx := kv.WithWitness(t.Context(), w)
		if _, err := store.Commit(ctx, kv.NewTxn().PutBytes(fmt.Sprintf("/halfshaft/v1/build/builds/%d", n), nil)); err != nil || !w.Written() {
			t.Fatal(err)
		}
	}
}

// elected wins an election over a client, until the test ends or lose is called.
func elected(t *testing.T, c *clientv3.Client) (fence kv.Fence, lose func()) {
	t.Helper()
	session, err := concurrency.NewSession(c)
	if err != nil {
		t.Fatal(err)
	}
	e := concurrency.NewElection(session, kv.Prefix("elections")+election)
	if err := e.Campaign(t.Context(), "me"); err != nil {
		t.Fatal(err)
	}
	lose = func() { session.Close() }
	t.Cleanup(lose)
	return kv.Fence{Key: e.Key(), CreateRevision: e.Rev()}, lose
}

// all reads the chain and proves it; what is wrong fails the test.
func all(t *testing.T, s *Store) []audit.Sealed {
	t.Helper()
	lines, r := proof(t, s, vehicle.DateOf(march))
	if !r.Whole() {
		t.Fatalf("the chain is not whole: %+v", r.Faults)
	}
	return lines
}

func proof(t *testing.T, s *Store, today vehicle.Date) ([]audit.Sealed, audit.Report) {
	t.Helper()
	p, err := s.Prove(t.Context(), today, nil)
	if err != nil {
		t.Fatal(err)
	}
	var lines []audit.Sealed
	for l, err := range s.Lines(t.Context(), Span{}) {
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, l)
	}
	return lines, p.Report
}

// wantEach fails unless the changes from 0 to n stand in the chain once each
// and in their order, and in the index.
func wantEach(t *testing.T, s *Store, n int) {
	t.Helper()
	lines := all(t, s)
	var got []string
	for _, l := range lines {
		line, err := audit.Parse(l.Text)
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, line.Actor)
		index, err := s.About(t.Context(), Span{From: l.Sequence - 1}, line.Objects[0], 1)
		if err != nil || len(index) != 1 || index[0] != (Indexed{l.Sequence, "changed"}) {
			t.Fatalf("line %d is not in the index of %s: %v, %v", l.Sequence, line.Objects[0], index, err)
		}
	}
	var want []string
	for i := range n {
		want = append(want, change(i).Actor)
	}
	if !slices.Equal(got, want) {
		t.Fatalf("got %v, want %d changes in order", got, n)
	}
	if st, err := s.State(t.Context(), 0); err != nil || len(st.Pending) != 0 {
		t.Fatalf("%d lines still wait, %v", len(st.Pending), err)
	}
	if ix, err := s.About(t.Context(), Span{From: 1 << 40, Latest: true}, "people/p0031", 10_000); err != nil || len(ix) != n {
		t.Fatalf("the index of a person has %d entries, %v", len(ix), err)
	}
}

func TestPendingLinesGoIntoTheChainInTheOrderOfTheirChanges(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	s := NewStore(store)
	fence, _ := elected(t, store.Client())
	pend(t, store, 0, 100)
	for batches, sealedSoFar := 0, 0; ; batches++ {
		n, more, _, err := s.Seal(t.Context(), march, fence)
		if err != nil || n > batchLines {
			t.Fatal(n, err)
		}
		sealedSoFar += n
		if n == 0 {
			if sealedSoFar != 100 || batches > 6 {
				t.Errorf("%d lines in %d batches", sealedSoFar, batches)
			}
			break
		}
		if more != (sealedSoFar < 100) {
			t.Errorf("after %d it says more: %v", sealedSoFar, more)
		}
	}
	wantEach(t, s, 100)
}

func TestLinesOfManyObjectsAndOfGreatLengthFitIntoBatches(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	s := NewStore(store)
	fence, _ := elected(t, store.Client())
	for n := range 60 {
		l := change(n)
		l.Time = march.AddDate(0, 0, n) // each is kept until another day
		for i := range 2 * audit.MaxObjects {
			l.Objects = append(l.Objects, fmt.Sprintf("builds/AM%04dX/%s", i, strings.Repeat("<", 280)))
		}
		l.Because = strings.Repeat("\u0001", 2000)
		if _, err := store.Commit(t.Context(), kv.NewTxn().PutBytes(newPendingKey(), []byte(l.Text()))); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.sealAll(t.Context(), clock, fence); err != nil {
		t.Fatal(err)
	}
	if lines := all(t, s); len(lines) != 60 {
		t.Errorf("%d lines", len(lines))
	}
}

// Control characters are the longest in a text: six bytes each. Forty such lines
// are more than etcd takes in a request.
func TestTheLongestLinesStayBelowWhatTheStoreTakes(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	s := NewStore(store)
	fence, _ := elected(t, store.Client())
	l := change(0)
	l.Objects, l.Because = nil, strings.Repeat("\u0001", 2000)
	for i := range audit.MaxObjects {
		l.Objects = append(l.Objects, fmt.Sprintf("people/p0031/%02d%s", i, strings.Repeat("\u0001", 280)))
	}
	for range batchLines {
		if _, err := store.Commit(t.Context(), kv.NewTxn().PutBytes(newPendingKey(), []byte(l.Text()))); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.sealAll(t.Context(), clock, fence); err != nil {
		t.Fatal(err)
	}
	if lines := all(t, s); len(lines) != batchLines {
		t.Errorf("%d lines", len(lines))
	}
}

func TestAPendingRecordThatIsNoLineIsToldInTheChain(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	s := NewStore(store)
	fence, _ := elected(t, store.Client())
	if _, err := store.Commit(t.Context(), kv.NewTxn().PutBytes(newPendingKey(), []byte("no\nline"))); err != nil {
		t.Fatal(err)
	}
	if _, err := s.sealAll(t.Context(), clock, fence); err != nil {
		t.Fatal(err)
	}
	lines := all(t, s)
	if l, err := audit.Parse(lines[0].Text); err != nil || l.ErrorReason != "LINE_UNREADABLE" || l.Because != "no\nline" {
		t.Errorf("got %+v, %v", l, err)
	}
}

func TestTheChainSurvivesTheEndOfItsProcessAtEveryPoint(t *testing.T) {
	for _, after := range []bool{false, true} {
		cuts := 0
		for at := 1; ; at++ {
			store := kv.NewStore(etcdtest.Client(t))
			fence, lose := elected(t, store.Client())
			pend(t, store, 0, 90)
			victim, m := mortalStore(store.Client(), at, after)
			_, err := victim.sealAll(t.Context(), clock, fence)
			if m.calls < at {
				if err != nil {
					t.Fatal(err)
				}
				break // it came to its end before this cut
			}
			cuts++
			if err == nil {
				t.Fatal("the victim did not notice its death")
			}
			pend(t, store, 90, 100)
			lose()
			next, _ := elected(t, store.Client())
			s := NewStore(store)
			if _, err := s.sealAll(t.Context(), clock, next); err != nil {
				t.Fatal(err)
			}
			wantEach(t, s, 100)
		}
		if cuts < 6 {
			t.Errorf("only %d cuts", cuts)
		}
	}
}

func TestALeaderThatLostTheElectionGivesNoNumber(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	s := NewStore(store)
	old, lose := elected(t, store.Client())
	pend(t, store, 0, 10)
	lose() // unseen by the old leader
	fresh, _ := elected(t, store.Client())
	if _, _, _, err := s.Seal(t.Context(), march, old); !errors.Is(err, kv.ErrNotLeader) {
		t.Fatalf("got %v, want ErrNotLeader", err)
	}
	if lines := all(t, s); len(lines) != 0 {
		t.Fatalf("the stale leader sealed %d lines", len(lines))
	}
	if _, err := s.sealAll(t.Context(), clock, fresh); err != nil {
		t.Fatal(err)
	}
	wantEach(t, s, 10)
}

// Even were there no fence, the head that a transaction was made from keeps two
// writers apart.
func TestTwoWritersAtOnceNeverGiveOneNumberTwice(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	s := NewStore(store)
	fence, _ := elected(t, store.Client())
	const writers, lines = 4, 200
	pend(t, store, 0, lines)
	errs := make(chan error)
	for range writers {
		go func() {
			for {
				n, _, _, err := s.Seal(t.Context(), march, fence)
				if err != nil && !fault.Is(err, fault.Aborted) && !fault.Is(err, fault.AlreadyExists) {
					errs <- err
					return
				}
				if err == nil && n == 0 {
					errs <- nil
					return
				}
			}
		}()
	}
	for range writers {
		if err := <-errs; err != nil {
			t.Error(err)
		}
	}
	wantEach(t, s, lines)
}

func TestALineWrittenAgainWhileItIsBeingSealedIsNotLost(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	s := NewStore(store)
	fence, _ := elected(t, store.Client())
	w := kv.NewWitness(newPendingKey(), []byte(change(0).Text()))
	write := func(n int) {
		txn := kv.NewTxn().PutBytes(fmt.Sprint("/halfshaft/v1/build/x/", n), nil)
		if _, err := store.Commit(kv.WithWitness(t.Context(), w), txn); err != nil {
			t.Fatal(err)
		}
	}
	write(1)
	st, err := s.State(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	w = kv.NewWitness(st.Pending[0].key, []byte(change(0).Text())) // the same, whose first commit was in doubt
	write(2)
	b := batch{txn: kv.NewTxn().Fence(fence), ranges: map[vehicle.Date]numbers{}, room: batchBytes}
	if !b.take(st.Pending[0], march) {
		t.Fatal("no room")
	}
	if _, err := store.Commit(t.Context(), b.txn); !fault.Is(err, fault.Aborted) {
		t.Fatalf("got %v: what was read before the second writing was sealed", err)
	}
	if _, err := s.sealAll(t.Context(), clock, fence); err != nil {
		t.Fatal(err)
	}
	wantEach(t, s, 1)
}

func TestTwoProcessesKeepOneChain(t *testing.T) {
	server := etcdtest.Start(t)
	store := kv.NewStore(server.Client())
	s := NewStore(store)
	type process struct {
		stop  context.CancelFunc
		ended chan error
	}
	start := func() process {
		ctx, stop := context.WithCancel(context.Background())
		p := process{stop, make(chan error, 1)}
		go func() {
			p.ended <- Chain(ctx, Config{Store: store, Clock: clock, Logger: slog.New(slog.DiscardHandler)})
		}()
		return p
	}
	first, second := start(), start()
	pend(t, store, 0, 50)
	waitForLines(t, s, 50)
	first.stop()
	if err := <-first.ended; !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	third := start()
	pend(t, store, 50, 100)
	waitForLines(t, s, 100)
	second.stop()
	<-second.ended
	pend(t, store, 100, 120)
	waitForLines(t, s, 120)
	third.stop()
	<-third.ended
	wantEach(t, s, 120)
}

// waitForLines follows the head until the chain has so many lines.
func waitForLines(t *testing.T, s *Store, n int64) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	heads := s.kv.Client().Watch(ctx, headKey)
	for {
		st, err := s.State(ctx, 1)
		if err != nil {
			t.Fatal(err)
		}
		if st.End.Sequence >= n && len(st.Pending) == 0 {
			return
		}
		select {
		case <-heads:
		case <-time.After(time.Second): // the watch may have begun after the last change
		case <-ctx.Done():
			t.Fatalf("the chain has %d lines, want %d", st.End.Sequence, n)
		}
	}
}
