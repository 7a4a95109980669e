package accessaudit

import (
	"fmt"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

// BenchmarkAnAuditedChange is a change with its line against the same change
// as a bare transaction of etcd, in turn over the same store.
func BenchmarkAnAuditedChange(b *testing.B) {
	client := etcdtest.Client(b)
	store := kv.NewStore(client)
	r := NewRecorder(RecorderConfig{Store: store})
	defer r.Close()
	line := change(1)
	var bare, audited time.Duration
	for i := range b.N {
		key := fmt.Sprintf("/halfshaft/v1/build/bare/%d", i)
		began := time.Now()
		if _, err := client.Txn(b.Context()).If(clientv3.Compare(clientv3.CreateRevision(key), "=", 0)).Then(clientv3.OpPut(key, "x")).Commit(); err != nil {
			b.Fatal(err)
		}
		bare += time.Since(began)

		key = fmt.Sprintf("/halfshaft/v1/build/audited/%d", i)
		began = time.Now()
		if _, err := store.Commit(kv.WithWitness(b.Context(), r.Witness(line)), kv.NewTxn().Absent(key).PutBytes(key, []byte("x"))); err != nil {
			b.Fatal(err)
		}
		audited += time.Since(began)
	}
	b.ReportMetric(float64(bare.Microseconds())/float64(b.N), "µs/bare")
	b.ReportMetric(float64(audited.Microseconds())/float64(b.N), "µs/audited")
	b.ReportMetric(float64(audited)/float64(bare), "audited/bare")
}

// BenchmarkSealing is the part that nobody waits for.
func BenchmarkSealing(b *testing.B) {
	store := kv.NewStore(etcdtest.Client(b))
	s := NewStore(store)
	made, err := store.Commit(b.Context(), kv.NewTxn().PutBytes("/halfshaft/v1/elections/bench", nil))
	if err != nil {
		b.Fatal(err)
	}
	fence := kv.Fence{Key: "/halfshaft/v1/elections/bench", CreateRevision: made.Revision}
	for from := 0; from < b.N; from += kv.MaxOps {
		txn := kv.NewTxn()
		for n := from; n < min(from+kv.MaxOps, b.N); n++ {
			txn.PutBytes(newPendingKey(), []byte(change(n).Text()))
		}
		if _, err := store.Commit(b.Context(), txn); err != nil {
			b.Fatal(err)
		}
	}
	b.ResetTimer()
	began := time.Now()
	if _, err := s.sealAll(b.Context(), clock, fence); err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(float64(b.N)/time.Since(began).Seconds(), "lines/s")
}
