package kv

import (
	"context"
	"errors"
	"fmt"
	"testing"

	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
)

const lineKey = "/halfshaft/v1/audit/pending/1"

// witnessed gives a context with a witness.
func witnessed(t *testing.T) (context.Context, *Witness) {
	t.Helper()
	w := NewWitness(lineKey, []byte("somebody changed it"))
	return WithWitness(t.Context(), w), w
}

func TestAWitnessStandsInTheFirstTransactionThatIsCommitted(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	ctx, w := witnessed(t)
	if w.Written() || w.Doubtful() {
		t.Error("a fresh witness says that it was written")
	}
	if _, err := s.Commit(ctx, NewTxn().Unchanged(key1, 7).Put(key1, str("a"))); !fault.Is(err, fault.Aborted) {
		t.Fatal(err)
	}
	if _, err := s.Commit(ctx, NewTxn()); err == nil {
		t.Fatal("an empty transaction was committed")
	}
	if w.Written() || value(t, s, lineKey) != "" {
		t.Error("a transaction that was refused wrote the witness")
	}
	first, err := s.Commit(ctx, NewTxn().Put(key1, str("a")))
	if err != nil || !w.Written() {
		t.Fatal(err, w.Written())
	}
	if _, err := s.Commit(ctx, NewTxn().Put(key1, str("b"))); err != nil {
		t.Fatal(err)
	}
	resp, err := s.Client().Get(t.Context(), lineKey)
	if err != nil || len(resp.Kvs) != 1 {
		t.Fatal(resp, err)
	}
	if e := resp.Kvs[0]; string(e.Value) != "somebody changed it" || e.ModRevision != first.Revision || e.Version != 1 {
		t.Errorf("got %v, want it once, at %d", e, first.Revision)
	}
}

func TestAReplayWritesNoWitness(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	commit(t, s, NewTxn().Once("build", id1, str("a"), nil).Put(key1, str("a")))
	ctx, w := witnessed(t)
	r, err := s.Commit(ctx, NewTxn().Once("build", id1, str("a"), nil).Put(key1, str("a")))
	if err != nil || !r.Replayed || w.Written() || w.Doubtful() || value(t, s, lineKey) != "" {
		t.Errorf("got %+v, %v; written %v", r, err, w.Written())
	}
}

func TestOfConcurrentCommitsOneCarriesTheWitness(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	ctx, w := witnessed(t)
	const n = 20
	done := make(chan error)
	for i := range n {
		go func() {
			txn := NewTxn().PutBytes(fmt.Sprintf("%s%d", key1, i), nil)
			if i%2 == 0 { // these are refused, some of them before any other
				txn.Unchanged(key2, 99)
			}
			_, err := s.Commit(ctx, txn)
			if (err != nil) != (i%2 == 0) {
				t.Errorf("commit %d: %v", i, err)
			}
			done <- nil
		}()
	}
	for range n {
		<-done
	}
	resp, err := s.Client().Get(t.Context(), lineKey)
	if err != nil || len(resp.Kvs) != 1 || resp.Kvs[0].Version != 1 || !w.Written() {
		t.Errorf("got %v, %v; want the witness written once", resp, err)
	}
}

func TestTheLargestTransactionHasRoomForItsWitness(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	ctx, w := witnessed(t)
	txn := NewTxn()
	for i := range MaxOps {
		txn.PutBytes(fmt.Sprintf("/halfshaft/v1/build/x/%d", i), nil)
	}
	if _, err := s.Commit(ctx, txn); err != nil || !w.Written() {
		t.Error(err)
	}
}

// lossy is a store whose first answer gets lost, before the transaction
// happened or after.
type lossy struct {
	clientv3.KV
	before, after error
}

type lossyTxn struct {
	clientv3.Txn
	from *lossy
}

func (l *lossy) Txn(ctx context.Context) clientv3.Txn { return &lossyTxn{l.KV.Txn(ctx), l} }

func (t *lossyTxn) If(c ...clientv3.Cmp) clientv3.Txn  { t.Txn = t.Txn.If(c...); return t }
func (t *lossyTxn) Then(o ...clientv3.Op) clientv3.Txn { t.Txn = t.Txn.Then(o...); return t }
func (t *lossyTxn) Else(o ...clientv3.Op) clientv3.Txn { t.Txn = t.Txn.Else(o...); return t }

func (t *lossyTxn) Commit() (*clientv3.TxnResponse, error) {
	if err := t.from.before; err != nil {
		t.from.before = nil
		return nil, err
	}
	resp, err := t.Txn.Commit()
	if lost := t.from.after; lost != nil {
		t.from.after = nil
		return nil, lost
	}
	return resp, err
}

func TestAWitnessOfACommitWithoutAnAnswerIsInDoubtAndWrittenAgain(t *testing.T) {
	gone := errors.New("the connection is gone")
	for name, l := range map[string]*lossy{
		"the transaction did not happen": {before: gone},
		"the transaction happened":       {after: gone},
	} {
		t.Run(name, func(t *testing.T) {
			server := etcdtest.Start(t)
			good := NewStore(server.Client())
			l.KV = server.Client().KV
			broken := clientv3.NewCtxClient(server.Client().Ctx())
			broken.KV = l
			happened := l.after != nil
			s := NewStore(broken)
			ctx, w := witnessed(t)
			_, err := s.Commit(ctx, NewTxn().Put(key1, str("a")))
			wantFault(t, err, fault.Unavailable, "OUTCOME_UNKNOWN")
			if w.Written() || !w.Doubtful() {
				t.Errorf("written %v, doubtful %v", w.Written(), w.Doubtful())
			}
			if stands := value(t, good, lineKey) != ""; stands != happened {
				t.Errorf("the witness stands: %v", stands)
			}
			// What comes after must not be without it, whatever became of the first.
			if _, err := s.Commit(ctx, NewTxn().Put(key2, str("b"))); err != nil {
				t.Fatal(err)
			}
			if !w.Written() || w.Doubtful() || value(t, good, lineKey) == "" {
				t.Errorf("written %v, doubtful %v", w.Written(), w.Doubtful())
			}
		})
	}
}

func TestACommitThatWaitsForAnotherIsGivenUpWithItsContext(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	ctx, w := witnessed(t)
	w.turn <- struct{}{} // another commit is under way
	gone, cancel := context.WithCancel(ctx)
	cancel()
	_, err := s.Commit(gone, NewTxn().Put(key1, str("a")))
	wantFault(t, err, fault.Unavailable, "NOT_SENT")
	<-w.turn
	if value(t, s, key1) != "" || w.Doubtful() {
		t.Error("it wrote")
	}
}
