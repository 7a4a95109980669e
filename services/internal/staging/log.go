// Package staging is the redo log behind an import that happens as a whole or
// not at all, although it is larger than a transaction: chunks are staged,
// one marker commits them, and from then on they are applied to the end, after
// a crash too. Nobody sees a record of an import that was not committed.
//
// Keys, apart from the service's own so that nobody who follows those reads
// them:
//
//	/halfshaft/v1/staging/<service>/state/<import>          state, as JSON
//	/halfshaft/v1/staging/<service>/chunk/<import>/00000042 one chunk, as given
package staging

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
)

// MaxChunkBytes is the largest chunk: what one value may hold.
const MaxChunkBytes = kv.MaxValueBytes

// The most that one request to stage holds, in every service: it must fit a
// value with room for what a service adds, sealing for example.
const (
	MaxRows         = 100
	MaxRequestBytes = 200 << 10
)

// Fits refuses a request to stage that has no row, or more than it may hold.
func Fits(rows, size int) error {
	if rows == 0 || rows > MaxRows || size > MaxRequestBytes {
		return fault.InvalidField("rows", fmt.Sprintf("%d rows, %d bytes", rows, size),
			fmt.Sprintf("1 to %d rows and at most %d bytes", MaxRows, MaxRequestBytes))
	}
	return nil
}

// maxChunks bounds an import to 25 GB, far beyond the store's quota; it keeps
// the chunk's number within eight digits.
const maxChunks = 100_000

// abandonedAfter is when an import that was never committed is dropped.
const abandonedAfter = 7 * 24 * time.Hour

// The states of an import, as Progress gives them.
const (
	Unknown   = "unknown"   // nothing staged under this id
	Staging   = "staging"   // chunks arrive; dropped when abandoned for seven days
	Committed = "committed" // will be applied to the end, whatever happens
	Done      = "done"      // applied
)

// Applier writes the records of one chunk under their final keys. Apply is
// called in order of the chunks, and for one chunk again after a crash or an
// error: doing it twice must be the same as once. It must not refuse a chunk
// for its content; that was to be checked before staging.
type Applier interface {
	Apply(ctx context.Context, chunk []byte) error
}

// Log is the staging of one service. It is safe for concurrent use; commits
// go one after another.
type Log struct {
	store   *kv.Store
	service string
	applier Applier
	now     func() time.Time
	busy    chan struct{} // held by the one commit under way
}

// New makes the log of a service.
func New(store *kv.Store, service string, a Applier) *Log {
	return &Log{store: store, service: service, applier: a, now: time.Now, busy: make(chan struct{}, 1)}
}

// state is the record of one import.
type state struct {
	State   string `json:"state"`
	Touched int64  `json:"touched"` // Unix second of the first chunk, then of the commit
	Chunks  int    `json:"chunks,omitempty"`
	Digest  string `json:"digest,omitempty"` // hex
	Applied int    `json:"applied,omitempty"`

	modRevision int64
}

func (l *Log) statePrefix() string { return kv.Prefix("staging") + l.service + "/state/" }

func (l *Log) stateKey(id string) string { return l.statePrefix() + id }

func (l *Log) chunkPrefix(id string) string {
	return kv.Prefix("staging") + l.service + "/chunk/" + id + "/"
}

func (l *Log) chunkKey(id string, n int) string {
	return fmt.Sprintf("%s%08d", l.chunkPrefix(id), n)
}

// validID keeps an import's keys in their place.
func validID(id string) error {
	if id == "" || len(id) > 100 || strings.ContainsFunc(id, func(r rune) bool { return r <= ' ' || r == '/' || r > '~' }) {
		return fault.InvalidField("import_id", id, "up to 100 letters and digits")
	}
	return nil
}

// Stage keeps one chunk, numbered from 0. The same chunk again is no error;
// other bytes under the same number are refused (CHUNK_DIFFERS). After the
// commit nothing more is kept, and Commit's digest decides whether what was
// meant is what was committed.
func (l *Log) Stage(ctx context.Context, importID string, sequence int, chunk []byte) error {
	if err := validID(importID); err != nil {
		return err
	}
	if sequence < 0 || sequence >= maxChunks {
		return fault.InvalidField("sequence", fmt.Sprint(sequence), fmt.Sprintf("0 to %d", maxChunks-1))
	}
	if len(chunk) > MaxChunkBytes {
		return fault.InvalidField("chunk", fmt.Sprintf("%d bytes", len(chunk)), fmt.Sprintf("at most %d bytes", MaxChunkBytes))
	}
	for {
		st, err := l.load(ctx, importID)
		if err != nil {
			return err
		}
		switch st.State {
		case Committed, Done:
			if sequence >= st.Chunks {
				return fault.New(fault.FailedPrecondition, "IMPORT_COMMITTED", "the import was committed with %d chunks", st.Chunks)
			}
			return nil
		case Unknown:
			// The state first, so that no chunk is ever without one.
			st.State, st.Touched = Staging, l.now().Unix()
			if err := l.save(ctx, importID, &st); fault.Is(err, fault.Aborted) {
				continue // another chunk came first: read again
			} else if err != nil {
				return err
			}
		}
		return l.put(ctx, importID, sequence, chunk, st.modRevision)
	}
}

// Take is Stage, and says how many chunks are staged then.
func (l *Log) Take(ctx context.Context, importID string, sequence int, chunk []byte) (staged int32, err error) {
	if err := l.Stage(ctx, importID, sequence, chunk); err != nil {
		return 0, err
	}
	n, _, _, err := l.Progress(ctx, importID)
	return int32(n), err
}

func (l *Log) put(ctx context.Context, id string, sequence int, chunk []byte, stateRev int64) error {
	key := l.chunkKey(id, sequence)
	_, err := l.store.Commit(ctx, kv.NewTxn().Unchanged(l.stateKey(id), stateRev).Absent(key).PutBytes(key, chunk))
	if !fault.Is(err, fault.AlreadyExists) {
		return err
	}
	old, err := l.chunk(ctx, id, sequence)
	if err != nil {
		return err
	}
	if old != nil && !bytes.Equal(old, chunk) {
		return fault.New(fault.Invalid, "CHUNK_DIFFERS", "chunk %d was staged before with other bytes", sequence)
	}
	return nil
}

// Progress tells how many chunks are staged and applied, and the state.
func (l *Log) Progress(ctx context.Context, importID string) (staged, applied int, st string, err error) {
	if err := validID(importID); err != nil {
		return 0, 0, "", err
	}
	s, err := l.load(ctx, importID)
	if err != nil {
		return 0, 0, "", err
	}
	if s.State == Committed || s.State == Done {
		return s.Chunks, s.Applied, s.State, nil
	}
	n, err := l.count(ctx, importID)
	return n, 0, s.State, err
}

// count gives how many chunks are staged.
func (l *Log) count(ctx context.Context, id string) (int, error) {
	resp, err := l.store.Client().Get(ctx, l.chunkPrefix(id), clientv3.WithPrefix(), clientv3.WithCountOnly())
	if err != nil {
		return 0, unreachable(err)
	}
	return int(resp.Count), nil
}

// Digest gives what Commit wants: the SHA-256 of all chunks, one after the
// other.
func Digest(chunks ...[]byte) [sha256.Size]byte {
	h := sha256.New()
	for _, c := range chunks {
		h.Write(c)
	}
	return [sha256.Size]byte(h.Sum(nil))
}

func (l *Log) load(ctx context.Context, id string) (state, error) {
	resp, err := l.store.Client().Get(ctx, l.stateKey(id))
	if err != nil {
		return state{}, unreachable(err)
	}
	if len(resp.Kvs) == 0 {
		return state{State: Unknown}, nil
	}
	return decode(resp.Kvs[0].Value, resp.Kvs[0].ModRevision)
}

func decode(b []byte, modRevision int64) (state, error) {
	var st state
	if err := json.Unmarshal(b, &st); err != nil {
		return state{}, fmt.Errorf("the state of an import cannot be read: %w", err)
	}
	st.modRevision = modRevision
	return st, nil
}

// save writes the state over the one that was read.
func (l *Log) save(ctx context.Context, id string, st *state) error {
	b, err := json.Marshal(st)
	if err != nil {
		return fmt.Errorf("encode the state of an import: %w", err)
	}
	key := l.stateKey(id)
	r, err := l.store.Commit(ctx, kv.NewTxn().Unchanged(key, st.modRevision).PutBytes(key, b))
	if err != nil {
		return err
	}
	st.modRevision = r.Revision
	return nil
}

// chunk reads one chunk, nil when it is not there.
func (l *Log) chunk(ctx context.Context, id string, sequence int) ([]byte, error) {
	resp, err := l.store.Client().Get(ctx, l.chunkKey(id, sequence))
	if err != nil {
		return nil, unreachable(err)
	}
	if len(resp.Kvs) == 0 {
		return nil, nil
	}
	// Never nil, so that an empty chunk is told from a missing one.
	return append([]byte{}, resp.Kvs[0].Value...), nil
}

func unreachable(err error) error {
	return &fault.Error{Kind: fault.Unavailable, Reason: "STORE_OUT_OF_REACH", Message: "the store gave no answer", RetryAfter: 2 * time.Second, Cause: err}
}
