package staging

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"go.uber.org/goleak"
	"pgregory.net/rapid"

	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// target applies a chunk by writing each of its words under a key of its own,
// and fails, before or after writing, when it is told to.
type target struct {
	store   *kv.Store
	applied []string
	before  int // fail this many calls before they write
	after   int // and then so many after
}

var errCrash = errors.New("the process died here")

func (a *target) Apply(ctx context.Context, chunk []byte) error {
	if a.before > 0 {
		a.before--
		return errCrash
	}
	txn := kv.NewTxn()
	for _, word := range strings.Fields(string(chunk)) {
		txn.PutBytes("/words/"+word, []byte(word))
	}
	if _, err := a.store.Commit(ctx, txn); err != nil {
		return err
	}
	if a.after > 0 {
		a.after--
		return errCrash
	}
	a.applied = append(a.applied, string(chunk))
	return nil
}

func fixture(t *testing.T) (*Log, *target) {
	t.Helper()
	store := kv.NewStore(etcdtest.Client(t))
	a := &target{store: store}
	return New(store, "build", a), a
}

func words(t testing.TB, s *kv.Store) []string {
	t.Helper()
	var found []string
	_, err := kv.Scan(context.Background(), s.Client(), "/words/", func(e kv.Entry) error {
		found = append(found, string(e.Value))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// left counts the keys under the import's chunks.
func left(t *testing.T, l *Log, id string) int {
	t.Helper()
	n, err := l.count(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func stage(t *testing.T, l *Log, id string, chunks ...string) (n int, digest [32]byte) {
	t.Helper()
	var all [][]byte
	for i, c := range chunks {
		if err := l.Stage(t.Context(), id, i, []byte(c)); err != nil {
			t.Fatal(err)
		}
		all = append(all, []byte(c))
	}
	return len(chunks), Digest(all...)
}

func wantProgress(t *testing.T, l *Log, id string, staged, applied int, state string) {
	t.Helper()
	s, a, st, err := l.Progress(t.Context(), id)
	if err != nil || s != staged || a != applied || st != state {
		t.Errorf("progress: %d staged, %d applied, %s, %v; want %d, %d, %s", s, a, st, err, staged, applied, state)
	}
}

func wantReason(t *testing.T, err error, kind fault.Kind, reason string) {
	t.Helper()
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != kind || reason != "" && f.Reason != reason {
		t.Errorf("got %v, want kind %d and reason %s", err, kind, reason)
	}
}

func TestAnImportHappensAsAWholeAndInOrder(t *testing.T) {
	l, a := fixture(t)
	wantProgress(t, l, "i1", 0, 0, Unknown)
	n, digest := stage(t, l, "i1", "a b", "c", "d e f")
	wantProgress(t, l, "i1", 3, 0, Staging)
	if got := words(t, a.store); len(got) != 0 {
		t.Errorf("before the commit there is %v", got)
	}
	for range 2 { // the second time changes nothing
		if err := l.Commit(t.Context(), "i1", n, digest); err != nil {
			t.Fatal(err)
		}
		if got := words(t, a.store); !slices.Equal(got, []string{"a", "b", "c", "d", "e", "f"}) {
			t.Errorf("got %v", got)
		}
		if !slices.Equal(a.applied, []string{"a b", "c", "d e f"}) {
			t.Errorf("applied %q", a.applied)
		}
	}
	wantProgress(t, l, "i1", 3, 3, Done)
	if n := left(t, l, "i1"); n != 0 {
		t.Errorf("%d chunks are left", n)
	}
}

func TestStagingAgainChangesNothingAndOtherBytesAreRefused(t *testing.T) {
	l, _ := fixture(t)
	stage(t, l, "i1", "a", "")
	stage(t, l, "i1", "a", "")
	wantReason(t, l.Stage(t.Context(), "i1", 0, []byte("b")), fault.Invalid, "CHUNK_DIFFERS")
	wantReason(t, l.Stage(t.Context(), "i1", 1, []byte("b")), fault.Invalid, "CHUNK_DIFFERS")
	n, digest := stage(t, l, "i1", "a", "")
	if err := l.Commit(t.Context(), "i1", n, digest); err == nil {
		t.Fatal("the applier takes no empty chunk, so this test checks nothing")
	}
	// Once committed, what was staged counts; the client's repetition is
	// harmless, and more than was committed is refused.
	if err := l.Stage(t.Context(), "i1", 0, []byte("a")); err != nil {
		t.Error(err)
	}
	wantReason(t, l.Stage(t.Context(), "i1", 2, []byte("c")), fault.FailedPrecondition, "IMPORT_COMMITTED")
}

func TestAnImportThatIsNotWholeIsNotCommitted(t *testing.T) {
	l, a := fixture(t)
	ctx := t.Context()
	for _, sequence := range []int{0, 1, 3} {
		if err := l.Stage(ctx, "i1", sequence, fmt.Append(nil, "w", sequence)); err != nil {
			t.Fatal(err)
		}
	}
	all := Digest([]byte("w0"), []byte("w1"), []byte("w2"), []byte("w3"))
	wantReason(t, l.Commit(ctx, "i1", 4, all), fault.FailedPrecondition, "CHUNK_MISSING")
	wantReason(t, l.Commit(ctx, "i1", 2, Digest([]byte("w0"), []byte("w1"))), fault.Invalid, "CHUNK_SURPLUS")
	wantReason(t, l.Commit(ctx, "nothing", 1, all), fault.FailedPrecondition, "CHUNK_MISSING")
	if err := l.Stage(ctx, "i1", 2, []byte("w2")); err != nil {
		t.Fatal(err)
	}
	wantReason(t, l.Commit(ctx, "i1", 4, Digest([]byte("other"))), fault.Invalid, "DIGEST_DIFFERS")
	if got := words(t, a.store); len(got) != 0 {
		t.Errorf("something was applied: %v", got)
	}
	if err := l.Commit(ctx, "i1", 4, all); err != nil {
		t.Error(err)
	}
	wantReason(t, l.Commit(ctx, "i1", 3, all), fault.Invalid, "IMPORT_DIFFERS")
}

func TestTheEdgesAreRefusedInTheWordsOfTheField(t *testing.T) {
	l, _ := fixture(t)
	ctx := t.Context()
	for name, err := range map[string]error{
		"an empty id":                 l.Stage(ctx, "", 0, nil),
		"an id with a slash":          l.Stage(ctx, "a/b", 0, nil),
		"a negative number":           l.Stage(ctx, "i", -1, nil),
		"a number of nine digits":     l.Stage(ctx, "i", 100_000_000, nil),
		"one byte more than 256 KiB":  l.Stage(ctx, "i", 0, make([]byte, 256<<10+1)),
		"a commit of no chunks":       l.Commit(ctx, "i", 0, Digest()),
		"the progress of an empty id": func() error { _, _, _, err := l.Progress(ctx, ""); return err }(),
	} {
		t.Run(name, func(t *testing.T) { wantReason(t, err, fault.Invalid, "INVALID_FIELD") })
	}
	if err := l.Stage(ctx, "i", 0, make([]byte, 256<<10)); err != nil {
		t.Errorf("256 KiB: %v", err)
	}
}

func TestACommittedImportReachesItsEndAfterAnyCrash(t *testing.T) {
	l, a := fixture(t)
	store := a.store
	run := 0
	rapid.Check(t, func(t *rapid.T) {
		ctx := context.Background()
		run++
		id := fmt.Sprint("i", run)
		var chunks [][]byte
		var want []string
		for i := range rapid.IntRange(1, 6).Draw(t, "chunks") {
			word := fmt.Sprintf("r%d-w%d", run, i)
			want = append(want, word)
			chunks = append(chunks, []byte(word))
			if err := l.Stage(ctx, id, i, chunks[i]); err != nil {
				t.Fatal(err)
			}
		}
		crash := &target{store: store,
			before: rapid.IntRange(0, 2).Draw(t, "crashes before writing"),
			after:  rapid.IntRange(0, 2).Draw(t, "crashes after writing"),
		}
		crashes := crash.before + crash.after
		err := New(store, "build", crash).Commit(ctx, id, len(chunks), Digest(chunks...))
		for ; err != nil; crashes-- {
			if crashes == 0 || !errors.Is(err, errCrash) {
				t.Fatal(err)
			}
			// A new process: it recovers, or the client commits again.
			again := New(store, "build", crash)
			if rapid.Bool().Draw(t, "recover") {
				err = again.Recover(ctx)
			} else {
				err = again.Commit(ctx, id, len(chunks), Digest(chunks...))
			}
		}
		var got []string
		for _, w := range want {
			resp, err := store.Client().Get(ctx, "/words/"+w)
			if err != nil {
				t.Fatal(err)
			}
			for _, e := range resp.Kvs {
				got = append(got, string(e.Value))
			}
		}
		if !slices.Equal(got, want) {
			t.Fatalf("got %v, want %v", got, want)
		}
		if _, _, st, err := l.Progress(ctx, id); st != Done || err != nil {
			t.Fatalf("the state is %s, %v", st, err)
		}
		if resp, err := store.Client().Get(ctx, l.chunkPrefix(id), clientv3.WithPrefix()); err != nil || len(resp.Kvs) != 0 {
			t.Fatalf("%d chunks are left, %v", len(resp.Kvs), err)
		}
	})
}

func TestRecoverDropsWhatNobodyCommittedForSevenDays(t *testing.T) {
	l, a := fixture(t)
	now := time.Date(2030, 5, 1, 12, 0, 0, 0, time.UTC)
	l.now = func() time.Time { return now }
	n, digest := stage(t, l, "old", "a", "b")
	now = now.Add(7 * 24 * time.Hour)
	stage(t, l, "young", "c")
	if err := l.Recover(t.Context()); err != nil { // seven days to the second: kept
		t.Fatal(err)
	}
	wantProgress(t, l, "old", 2, 0, Staging)
	now = now.Add(time.Second)
	if err := l.Recover(t.Context()); err != nil {
		t.Fatal(err)
	}
	wantProgress(t, l, "old", 0, 0, Unknown)
	wantProgress(t, l, "young", 1, 0, Staging)
	wantReason(t, l.Commit(t.Context(), "old", n, digest), fault.FailedPrecondition, "CHUNK_MISSING")
	if got := words(t, a.store); len(got) != 0 {
		t.Errorf("got %v", got)
	}
}

func TestRecoverDropsChunksThatACrashLeftBehindADoneImport(t *testing.T) {
	l, _ := fixture(t)
	n, digest := stage(t, l, "i1", "a")
	if err := l.Commit(t.Context(), "i1", n, digest); err != nil {
		t.Fatal(err)
	}
	if _, err := l.store.Client().Put(t.Context(), l.chunkKey("i1", 0), "a"); err != nil {
		t.Fatal(err)
	}
	if err := l.Recover(t.Context()); err != nil {
		t.Fatal(err)
	}
	if left(t, l, "i1") != 0 {
		t.Error("the chunk is still there")
	}
}

func TestServicesAndImportsWithLikeNamesAreApart(t *testing.T) {
	l, a := fixture(t)
	other := New(a.store, "buildx", a)
	n, digest := stage(t, l, "i1", "a")
	stage(t, l, "i10", "b")
	stage(t, other, "i1", "c", "d")
	if err := l.Commit(t.Context(), "i1", n, digest); err != nil {
		t.Fatal(err)
	}
	wantProgress(t, l, "i10", 1, 0, Staging)
	wantProgress(t, other, "i1", 2, 0, Staging)
}

func TestManyChunksOfFullSizeAreCommittedOneByOne(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	sizes := &sizeOnly{}
	l := New(store, "build", sizes)
	var chunks [][]byte
	for i := range 20 {
		chunks = append(chunks, bytes.Repeat([]byte{byte(i)}, MaxChunkBytes))
		if err := l.Stage(t.Context(), "big", i, chunks[i]); err != nil {
			t.Fatal(err)
		}
	}
	if err := l.Commit(t.Context(), "big", len(chunks), Digest(chunks...)); err != nil {
		t.Fatal(err)
	}
	if sizes.n != 20*MaxChunkBytes {
		t.Errorf("applied %d bytes", sizes.n)
	}
}

type sizeOnly struct{ n int }

func (s *sizeOnly) Apply(_ context.Context, chunk []byte) error { s.n += len(chunk); return nil }
