package kv

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"go.etcd.io/etcd/client/v3/concurrency"
	"go.uber.org/goleak"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/structpb"
	"google.golang.org/protobuf/types/known/wrapperspb"
	"pgregory.net/rapid"

	"halfshaft/services/fault"
	"halfshaft/services/internal/embedetcd"
	"halfshaft/services/internal/etcdtest"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const (
	key1 = "/halfshaft/v1/build/builds/AM0147P"
	key2 = "/halfshaft/v1/build/frames/4711"
	id1  = "0b8f5d58-6f0e-4b8e-9a52-0d6f1f0c1a11"
)

func str(s string) *wrapperspb.StringValue { return wrapperspb.String(s) }

// wantFault fails unless err is a fault of that kind and reason.
func wantFault(t *testing.T, err error, kind fault.Kind, reason string) *fault.Error {
	t.Helper()
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != kind || f.Reason != reason {
		t.Fatalf("got %#v, want kind %v and reason %s", err, kind, reason)
	}
	return f
}

func commit(t *testing.T, s *Store, txn *Txn) Result {
	t.Helper()
	r, err := s.Commit(t.Context(), txn)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// value reads a key past the store, "" for none.
func value(t *testing.T, s *Store, key string) string {
	t.Helper()
	resp, err := s.Client().Get(t.Context(), key)
	if err != nil {
		t.Fatal(err)
	}
	if len(resp.Kvs) == 0 {
		return ""
	}
	return string(resp.Kvs[0].Value)
}

func TestAKeyStandsUnderItsService(t *testing.T) {
	// design.md, Store: keys are /halfshaft/v1/<service>/...
	if got, want := Prefix("build"), "/halfshaft/v1/build/"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestARecordIsReadAsItWasWritten(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	r := commit(t, s, NewTxn().Absent(key1).Put(key1, str("as built")))
	var got wrapperspb.StringValue
	rev, found, err := s.Get(t.Context(), key1, &got)
	if err != nil || !found || got.Value != "as built" || rev != r.Revision {
		t.Errorf("got %v at %d, %v, %v; want it at %d", &got, rev, found, err, r.Revision)
	}
	if _, found, err := s.Get(t.Context(), key2, &got); found || err != nil {
		t.Errorf("a missing record: %v, %v", found, err)
	}
}

func TestManyKeysAreAskedAfterAtOnce(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	keys, want := make([]string, 2*MaxOps+1), make([]bool, 2*MaxOps+1)
	for i := range keys {
		keys[i], want[i] = fmt.Sprintf("/halfshaft/v1/build/there/%d", i), i%MaxOps == 0
		if want[i] {
			if _, err := s.Commit(t.Context(), NewTxn().Put(keys[i], str("x"))); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, n := range []int{0, 1, len(keys)} {
		if got, err := s.There(t.Context(), keys[:n]); err != nil || !slices.Equal(got, want[:n]) {
			t.Errorf("of %d keys: got %v, %v", n, got, err)
		}
	}
}

func TestAFailedCompareWritesNothing(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	rev := commit(t, s, NewTxn().Put(key1, str("old"))).Revision
	old := value(t, s, key1)
	other := "/halfshaft/v1/build/other/1"
	for name, c := range map[string]struct {
		txn    *Txn
		kind   fault.Kind
		reason string
		record string
	}{
		"a record that must be absent is there": {
			NewTxn().Absent(key1), fault.AlreadyExists, "ALREADY_EXISTS", "build/builds"},
		"a record has changed since it was read": {
			NewTxn().Unchanged(key1, rev-1), fault.Aborted, "CONFLICT", "build/builds"},
		"a record read as missing is there now": {
			NewTxn().Unchanged(key1, 0), fault.Aborted, "CONFLICT", "build/builds"},
		"a record is gone": {
			NewTxn().Unchanged(key2, rev), fault.Aborted, "CONFLICT", "build/frames"},
		"the second of two compares fails": {
			NewTxn().Absent(key2).Unchanged(key1, rev+7), fault.Aborted, "CONFLICT", "build/builds"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := s.Commit(t.Context(), c.txn.Put(other, str("new")).PutBytes("/halfshaft/v1/build/x/1", nil))
			f := wantFault(t, err, c.kind, c.reason)
			if f.Meta["record"] != c.record {
				t.Errorf("got the record %q, want %q", f.Meta["record"], c.record)
			}
			// A serial is nobody's business but the one's who may see it.
			if strings.Contains(f.Error(), "AM0147P") {
				t.Errorf("%q tells the key", f)
			}
			if got := value(t, s, other); got != "" {
				t.Errorf("half of the transaction was written: %q", got)
			}
			if got := value(t, s, key1); got != old {
				t.Errorf("the record became %q", got)
			}
		})
	}
}

func TestATransactionThatCannotBeRightIsRefusedBeforeItIsSent(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	many := NewTxn()
	for i := range MaxOps + 1 {
		many.PutBytes(fmt.Sprintf("/halfshaft/v1/build/x/%d", i), nil)
	}
	most := NewTxn().Once("build", id1, str("a"), nil)
	for i := range MaxOps {
		most.PutBytes(fmt.Sprintf("/halfshaft/v1/build/x/%d", i), nil)
	}
	for name, c := range map[string]struct {
		txn    *Txn
		reason string
	}{
		"more than 127 operations":                              {many, "TRANSACTION_TOO_LARGE"},
		"127 operations and a request id":                       {most, "TRANSACTION_TOO_LARGE"},
		"one key written twice":                                 {NewTxn().Put(key1, str("a")).Put(key1, str("b")), "KEY_TWICE"},
		"one key written and deleted":                           {NewTxn().Put(key1, str("a")).Delete(key1), "KEY_TWICE"},
		"nothing to write":                                      {NewTxn().Absent(key1), "TRANSACTION_EMPTY"},
		"a value of one byte over 256 KiB":                      {NewTxn().PutBytes(key1, make([]byte, 256<<10+1)), "VALUE_TOO_LARGE"},
		"a message over 256 KiB":                                {NewTxn().Put(key1, str(strings.Repeat("x", 256<<10))), "VALUE_TOO_LARGE"},
		"a fence that was never won":                            {NewTxn().Fence(Fence{}).Put(key1, str("a")), "FENCE_EMPTY"},
		"a fence without a revision, which any key absent fits": {NewTxn().Fence(Fence{Key: "/e"}).Put(key1, str("a")), "FENCE_EMPTY"},
		"a request id that leaves its place":                    {NewTxn().Once("build", "../x", str("a"), nil).Put(key1, str("a")), "REQUEST_ID_MALFORMED"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := s.Commit(t.Context(), c.txn)
			wantFault(t, err, fault.Internal, c.reason)
		})
	}
	t.Run("127 operations and a value of 256 KiB are taken", func(t *testing.T) {
		txn := NewTxn()
		for i := range MaxOps - 1 {
			txn.PutBytes(fmt.Sprintf("/halfshaft/v1/build/x/%d", i), nil).Absent(fmt.Sprintf("/halfshaft/v1/build/x/%d", i))
		}
		commit(t, s, txn.PutBytes(key1, make([]byte, 256<<10)))
	})
}

func TestARepeatedRequestGetsItsFirstAnswer(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	ctx := t.Context()
	request, answer := str("record 12,345 km"), str("readings/1")
	if _, found, err := s.Replay(ctx, "schedule", id1, request); found || err != nil {
		t.Fatalf("before: %v, %v", found, err)
	}
	first := commit(t, s, NewTxn().Once("schedule", id1, request, answer).Absent(key1).Put(key1, str("a")))
	if first.Replayed {
		t.Error("the first commit says that it is a replay")
	}
	// Others go on meanwhile, on the same record too.
	commit(t, s, NewTxn().Put(key1, str("b")))
	later := value(t, s, key1)

	again := commit(t, s, NewTxn().Once("schedule", id1, request, str("readings/2")).Absent(key1).Put(key1, str("a")))
	var got wrapperspb.StringValue
	if err := proto.Unmarshal(again.Answer, &got); err != nil {
		t.Fatal(err)
	}
	if !again.Replayed || again.Revision != first.Revision || got.Value != "readings/1" {
		t.Errorf("got %+v with %q, want the first answer at %d", again, got.Value, first.Revision)
	}
	if value(t, s, key1) != later {
		t.Error("the replay wrote")
	}
	b, found, err := s.Replay(ctx, "schedule", id1, request)
	if err != nil || !found || string(b) != string(again.Answer) {
		t.Errorf("Replay: %q, %v, %v", b, found, err)
	}

	t.Run("another payload under the same id is refused", func(t *testing.T) {
		_, err := s.Commit(ctx, NewTxn().Once("schedule", id1, str("record 54,321 km"), answer).Put(key2, str("a")))
		f := wantFault(t, err, fault.Invalid, "REQUEST_ID_REUSED")
		if len(f.Fields) != 1 || f.Fields[0].Name != "request_id" || f.Fields[0].Got != id1 {
			t.Errorf("fields: %v", f.Fields)
		}
		_, _, err = s.Replay(ctx, "schedule", id1, str("record 54,321 km"))
		wantFault(t, err, fault.Invalid, "REQUEST_ID_REUSED")
		if value(t, s, key2) != "" {
			t.Error("it wrote")
		}
	})
	t.Run("a payload of the same bytes and another type is another payload", func(t *testing.T) {
		_, _, err := s.Replay(ctx, "schedule", id1, wrapperspb.Bytes([]byte("record 12,345 km")))
		wantFault(t, err, fault.Invalid, "REQUEST_ID_REUSED")
	})
	t.Run("another service has ids of its own", func(t *testing.T) {
		if _, found, err := s.Replay(ctx, "build", id1, request); found || err != nil {
			t.Errorf("%v, %v", found, err)
		}
	})
	t.Run("an empty id asks for nothing", func(t *testing.T) {
		for range 2 {
			r := commit(t, s, NewTxn().Once("schedule", "", request, answer).Put(key2, str("a")))
			if r.Replayed {
				t.Error("replayed")
			}
		}
	})
}

func TestMapsInAPayloadDoNotChangeItsFingerprint(t *testing.T) {
	// Go ranges over maps in random order; 20 fields leave it no luck.
	m := map[string]any{}
	for i := range 20 {
		m[fmt.Sprint(i)] = i
	}
	p, err := structpb.NewStruct(m)
	if err != nil {
		t.Fatal(err)
	}
	want, err := fingerprint(p)
	if err != nil {
		t.Fatal(err)
	}
	for range 50 {
		if got, _ := fingerprint(proto.Clone(p)); got != want {
			t.Fatal("the same message has two fingerprints")
		}
	}
}

func TestOfManyConcurrentRepetitionsOneHappens(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	results := make(chan Result)
	const n = 20
	for range n {
		go func() {
			r, err := s.Commit(t.Context(), NewTxn().Once("build", id1, str("a"), str("b")).Put(key1, str("x")))
			if err != nil {
				t.Error(err)
			}
			results <- r
		}()
	}
	done, revisions := 0, map[int64]bool{}
	for range n {
		r := <-results
		revisions[r.Revision] = true
		if !r.Replayed {
			done++
		}
	}
	if done != 1 || len(revisions) != 1 {
		t.Errorf("%d happened, at the revisions %v; want one", done, revisions)
	}
}

func TestOldRequestIdsAreForgotten(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	for i := range 300 {
		commit(t, s, NewTxn().Once("build", fmt.Sprint("id-", i), str("a"), nil))
	}
	if n, err := s.TrimRequests(t.Context(), "build", time.Now().Add(-time.Hour)); n != 0 || err != nil {
		t.Errorf("an hour ago: %d, %v; want none", n, err)
	}
	if n, err := s.TrimRequests(t.Context(), "build", time.Now().Add(time.Hour)); n != 300 || err != nil {
		t.Errorf("in an hour: %d, %v; want all", n, err)
	}
	if _, found, err := s.Replay(t.Context(), "build", "id-0", str("a")); found || err != nil {
		t.Errorf("%v, %v", found, err)
	}
}

// elect wins an election with a session of its own.
func elect(t *testing.T, c *clientv3.Client) (Fence, *concurrency.Session) {
	t.Helper()
	session, err := concurrency.NewSession(c)
	if err != nil {
		t.Fatal(err)
	}
	e := concurrency.NewElection(session, Prefix("elections")+"test")
	if err := e.Campaign(t.Context(), "me"); err != nil {
		t.Fatal(err)
	}
	return Fence{e.Key(), e.Rev()}, session
}

func TestALeaderThatSleptThroughItsEndWritesNothing(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	old, session := elect(t, s.Client())
	commit(t, s, NewTxn().Fence(old).Put(key1, str("first")))

	// The first leader is paused here: its session ends unseen by it.
	if err := session.Close(); err != nil {
		t.Fatal(err)
	}
	fresh, next := elect(t, s.Client())
	defer next.Close()
	commit(t, s, NewTxn().Fence(fresh).Put(key1, str("second")))
	want := value(t, s, key1)

	_, err := s.Commit(t.Context(), NewTxn().Fence(old).Put(key1, str("stale")))
	if !errors.Is(err, ErrNotLeader) {
		t.Errorf("got %v, want ErrNotLeader", err)
	}
	wantFault(t, err, fault.Aborted, "NOT_LEADER")
	// The fence speaks before other compares: a stale leader must stop.
	_, err = s.Commit(t.Context(), NewTxn().Absent(key1).Fence(old).Put(key2, str("stale")))
	if !errors.Is(err, ErrNotLeader) {
		t.Errorf("got %v, want ErrNotLeader", err)
	}
	if got := value(t, s, key1); got != want {
		t.Errorf("the stale leader wrote %q", got)
	}
}

func TestAStoreOutOfReachLeavesTheOutcomeOpen(t *testing.T) {
	server := etcdtest.Start(t)
	s := NewStore(server.Client())
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := s.Commit(gone, NewTxn().Put(key1, str("a")))
	if f := wantFault(t, err, fault.Unavailable, "OUTCOME_UNKNOWN"); f.RetryAfter <= 0 {
		t.Error("no advice when to try again")
	}
	if !errors.Is(err, context.Canceled) {
		t.Errorf("the cause is lost: %v", err)
	}
	if err := server.Close(); err != nil {
		t.Fatal(err)
	}
	_, err = s.Commit(t.Context(), NewTxn().Put(key1, str("a")))
	wantFault(t, err, fault.Unavailable, "OUTCOME_UNKNOWN")
	_, _, err = s.Get(t.Context(), key1, str(""))
	wantFault(t, err, fault.Unavailable, "STORE_OUT_OF_REACH")
}

func TestAFullStoreIsNamedAsSuch(t *testing.T) {
	s := NewStore(etcdtest.StartIn(t, embedetcd.Config{Dir: t.TempDir(), QuotaBytes: 2 << 20}).Client())
	// etcd counts what it has written through to its file, which it does ten
	// times a second: some writes too many are let in first.
	for i := range 5000 {
		_, err := s.Commit(t.Context(), NewTxn().PutBytes(fmt.Sprintf("/fill/%d", i), make([]byte, 64<<10)))
		if err != nil {
			wantFault(t, err, fault.Exhausted, "STORE_FULL")
			return
		}
	}
	t.Error("320 MB fitted into a quota of 2 MiB")
}

func TestAScanGivesEveryKeyOnceAtOneRevision(t *testing.T) {
	s := NewStore(etcdtest.Client(t))
	var want []string
	for i := range 5 {
		txn := NewTxn()
		for j := range MaxOps {
			want = append(want, fmt.Sprintf("/scan/%d%03d", i, j))
			txn.PutBytes(want[len(want)-1], nil)
		}
		commit(t, s, txn)
	}
	commit(t, s, NewTxn().PutBytes("/scan", nil).PutBytes("/scan0", nil)) // neighbours
	var got []string
	var before int64
	rev, err := ScanAt(t.Context(), s.Client(), "/scan/", func(at int64) { before = at }, func(e Entry) error {
		if len(got) == 0 { // written meanwhile, before and behind: not seen
			commit(t, s, NewTxn().PutBytes("/scan/zzz", nil).PutBytes("/scan/!", nil).Delete(want[600]))
		}
		got = append(got, e.Key)
		return nil
	})
	if err != nil || rev != before {
		t.Fatal(rev, before, err)
	}
	if strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("got %d keys, want %d", len(got), len(want))
	}
	stop := errors.New("enough")
	if _, err := Scan(t.Context(), s.Client(), "/scan/", func(Entry) error { return stop }); !errors.Is(err, stop) {
		t.Errorf("got %v, want the error of each", err)
	}
}

func TestAnEtagIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rev := rapid.Int64Range(1, 1<<62).Draw(t, "revision")
		if got, err := ParseEtag(Etag(rev)); got != rev || err != nil {
			t.Fatalf("got %d, %v; want %d", got, err, rev)
		}
	})
	for name, tag := range map[string]string{
		"empty": "", "zero": "0", "negative": "-1", "with a sign": "+1", "with a zero before": "01",
		"in capitals": "A", "no number": "a-b", "too large": "zzzzzzzzzzzzzzzzzzzz",
	} {
		t.Run("an etag "+name+" is refused", func(t *testing.T) {
			if _, err := ParseEtag(tag); !fault.Is(err, fault.Invalid) {
				t.Errorf("got %v", err)
			}
		})
	}
}

func FuzzParseEtag(f *testing.F) {
	f.Add("1z")
	f.Add("")
	f.Fuzz(func(t *testing.T, tag string) {
		if rev, err := ParseEtag(tag); err == nil && Etag(rev) != tag {
			t.Errorf("%q is read as %d, which is %q", tag, rev, Etag(rev))
		}
	})
}

// BenchmarkCommit prints what Commit of one record costs against a bare etcd
// transaction with the same compare and put, in turn on the same server.
func BenchmarkCommit(b *testing.B) {
	s := NewStore(etcdtest.Client(b))
	record := durationpb.New(12345)
	bytes, err := proto.Marshal(record)
	if err != nil {
		b.Fatal(err)
	}
	var bare, ours time.Duration
	n := 0
	for b.Loop() {
		n++
		key := fmt.Sprint("/bare/", n)
		begin := time.Now()
		_, err := s.Client().Txn(b.Context()).If(clientv3.Compare(clientv3.CreateRevision(key), "=", 0)).
			Then(clientv3.OpPut(key, string(bytes))).Commit()
		if err != nil {
			b.Fatal(err)
		}
		bare += time.Since(begin)
		key = fmt.Sprint("/ours/", n)
		begin = time.Now()
		if _, err := s.Commit(b.Context(), NewTxn().Absent(key).Put(key, record)); err != nil {
			b.Fatal(err)
		}
		ours += time.Since(begin)
	}
	b.ReportMetric(float64(ours)/float64(bare), "x-bare-txn")
	b.ReportMetric(float64(ours.Microseconds())/float64(n), "µs/commit")
}
