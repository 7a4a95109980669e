package accessaudit

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/access"
	"halfshaft/services/access/audit"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

// refusal is somebody unknown who tries the door.
func refusal(network, object string) audit.Line {
	return audit.Line{
		Time: march, Method: "/halfshaft.build.v1.BuildService/GetBuild", Objects: []string{object},
		Outcome: audit.Refused, ErrorReason: "KEY_UNKNOWN", Network: network,
	}
}

// still is a recorder whose writer is stopped, on a clock of its own: tests
// write by hand.
func still(t *testing.T, store *kv.Store) (r *Recorder, passes func(time.Duration)) {
	t.Helper()
	r = NewRecorder(RecorderConfig{Store: store})
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	now := march
	r.now = func() time.Time { return now }
	return r, func(d time.Duration) { now = now.Add(d) }
}

// waiting gives the pending lines, in their order.
func waiting(t *testing.T, store *kv.Store) []audit.Line {
	t.Helper()
	st, err := NewStore(store).State(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	var lines []audit.Line
	for _, p := range st.Pending {
		l, err := audit.Parse(p.Text)
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, l)
	}
	return lines
}

// counts sums the calls that pending lines stand for.
func counts(lines []audit.Line) (n int) {
	for _, l := range lines {
		n += max(1, l.Count)
	}
	return n
}

func TestWhatIsNotedIsWrittenWithinATenthOfASecondAndNotBefore(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	r, passes := still(t, store)
	r.Note(refusal("192.0.2.17", "builds/AM0147P"))
	passes(hold - time.Millisecond)
	r.flush(t.Context(), false)
	if n := len(waiting(t, store)); n != 0 {
		t.Fatalf("%d lines before their time", n)
	}
	passes(time.Millisecond)
	r.flush(t.Context(), false)
	if n := len(waiting(t, store)); n != 1 {
		t.Fatalf("%d lines after a tenth of a second", n)
	}
}

func TestRefusalsThatAreAlikeBecomeOneLineWithACount(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	r, _ := still(t, store)
	for i := range 100 {
		r.Note(refusal("192.0.2.17", fmt.Sprintf("builds/AM%04dX", i)))
	}
	r.Note(refusal("192.0.2.18", "builds/AM0147P"))
	other := refusal("192.0.2.17", "builds/AM0147P")
	other.ErrorReason = "KEY_EXPIRED"
	r.Note(other)
	known := refusal("192.0.2.17", "builds/AM0147P")
	known.Actor, known.Role, known.Credential = "bench 2", access.Engineer, "keys/0badcafe"
	r.Note(known)
	r.flush(t.Context(), true)
	lines := waiting(t, store)
	if len(lines) != 4 || counts(lines) != 103 {
		t.Fatalf("got %d lines for %d calls, want 4 for 103", len(lines), counts(lines))
	}
	i := slices.IndexFunc(lines, func(l audit.Line) bool { return l.Count == 100 })
	if i < 0 || len(lines[i].Objects) != audit.MaxObjects || lines[i].Objects[0] != "builds/AM0000X" {
		t.Errorf("the folded line is %+v", lines)
	}
}

func TestReadingsOfDifferentThingsAreLinesOfTheirOwn(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	r, _ := still(t, store)
	for i := range 3 {
		l := change(i)
		l.Actor, l.Outcome = "front desk", audit.Read
		r.Note(l)
		r.Note(l)
	}
	r.flush(t.Context(), true)
	lines := waiting(t, store)
	if len(lines) != 3 || counts(lines) != 6 {
		t.Errorf("got %+v", lines)
	}
}

// Somebody who knocks a hundred times a second for ten minutes.
func TestARefusalThatKeepsComingIsWrittenSeldomAndCountedWhole(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	r, passes := still(t, store)
	const times = 60_000
	for range times {
		r.Note(refusal("192.0.2.17", "builds/AM0147P"))
		passes(10 * time.Millisecond)
		r.flush(t.Context(), false)
	}
	r.flush(t.Context(), true)
	lines := waiting(t, store)
	if len(lines) > 80 || counts(lines) != times {
		t.Errorf("%d lines for %d calls, want few for %d", len(lines), counts(lines), times)
	}
	// After a pause the next one is written at once again.
	passes(time.Minute)
	r.Note(refusal("192.0.2.17", "builds/AM0147P"))
	passes(hold)
	r.flush(t.Context(), false)
	if again := waiting(t, store); len(again) != len(lines)+1 {
		t.Errorf("after a pause it is held still")
	}
}

func TestManyNetworksAtOnceTakeBoundedMemory(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	r, _ := still(t, store)
	const networks = 20_000
	for i := range networks {
		r.Note(refusal(fmt.Sprintf("2001:db8:%x::/64", i), "builds/AM0147P"))
	}
	if len(r.notes) > mostFolded || len(r.quiet) > 2*mostNotes {
		t.Errorf("%d notes and %d intervals are held", len(r.notes), len(r.quiet))
	}
	r.flush(t.Context(), true)
	if lines := waiting(t, store); counts(lines) != networks || len(lines) > mostNotes+1 {
		t.Errorf("%d lines for %d calls, want all %d", len(lines), counts(lines), networks)
	}
}

func TestClosingWritesWhatIsHeld(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	r := NewRecorder(RecorderConfig{Store: store})
	var group sync.WaitGroup
	for i := range 8 {
		group.Go(func() {
			for range 50 {
				r.Note(refusal(fmt.Sprint("192.0.2.", i), "builds/AM0147P"))
			}
		})
	}
	group.Wait()
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if n := counts(waiting(t, store)); n != 400 {
		t.Errorf("%d calls, want 400", n)
	}
}

func TestTheWriterWakesByItself(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	came := store.Client().Watch(ctx, pendingPrefix, clientv3.WithPrefix(), clientv3.WithRev(1))
	r := NewRecorder(RecorderConfig{Store: store})
	defer r.Close()
	r.Note(refusal("192.0.2.17", "builds/AM0147P"))
	if w, open := <-came; !open || len(w.Events) != 1 {
		t.Fatalf("nothing was written: %v", w.Err())
	}
}

// failing is a store that does not answer for a number of transactions.
type failing struct {
	clientv3.KV
	left int
}

type failingTxn struct {
	clientv3.Txn
	from *failing
}

func (f *failing) Txn(ctx context.Context) clientv3.Txn { return &failingTxn{f.KV.Txn(ctx), f} }

func (t *failingTxn) If(c ...clientv3.Cmp) clientv3.Txn  { t.Txn = t.Txn.If(c...); return t }
func (t *failingTxn) Then(o ...clientv3.Op) clientv3.Txn { t.Txn = t.Txn.Then(o...); return t }
func (t *failingTxn) Else(o ...clientv3.Op) clientv3.Txn { t.Txn = t.Txn.Else(o...); return t }

// Commit lets the transaction happen and loses the answer.
func (t *failingTxn) Commit() (*clientv3.TxnResponse, error) {
	resp, err := t.Txn.Commit()
	if t.from.left > 0 {
		t.from.left--
		return nil, errors.New("the connection is gone")
	}
	return resp, err
}

func TestNotesWithoutAnAnswerAreWrittenAgainAndStandOnce(t *testing.T) {
	good := etcdtest.Client(t)
	client := clientv3.NewCtxClient(good.Ctx())
	f := &failing{KV: good.KV, left: 3}
	client.KV = f
	r, passes := still(t, kv.NewStore(client))
	for i := range 300 {
		r.Note(refusal(fmt.Sprint("network ", i), "builds/AM0147P"))
	}
	for range 4 {
		passes(retryAfter)
		r.flush(t.Context(), false)
	}
	if lines := waiting(t, kv.NewStore(good)); len(lines) != 300 || counts(lines) != 300 {
		t.Errorf("%d lines for %d calls, want 300", len(lines), counts(lines))
	}
}

func TestAWitnessIsTheTextOfItsLine(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	r, _ := still(t, store)
	w := r.Witness(change(1))
	if _, err := store.Commit(kv.WithWitness(t.Context(), w), kv.NewTxn().PutBytes("/halfshaft/v1/build/x/1", nil)); err != nil {
		t.Fatal(err)
	}
	if lines := waiting(t, store); len(lines) != 1 || lines[0].Text() != change(1).Text() {
		t.Errorf("got %+v", lines)
	}
	if a, b := newPendingKey(), newPendingKey(); a == b || !strings.HasPrefix(a, pendingPrefix) {
		t.Errorf("keys %s, %s", a, b)
	}
}
