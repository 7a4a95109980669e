package staging

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"

	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
)

// Commit makes the import happen: it checks that chunks 0 to chunks-1 are all
// there and have the digest (see Digest), puts the marker, applies every
// chunk, and drops them. Once the marker is there the import can no longer
// fail, only be interrupted: calling Commit again, or Recover, goes on where
// it stopped. A commit that is done already is no error.
//
// Applying takes as long as it takes; when ctx ends first, the error says so
// and the call is to be made again.
func (l *Log) Commit(ctx context.Context, importID string, chunks int, digest [sha256.Size]byte) error {
	if err := validID(importID); err != nil {
		return err
	}
	if chunks < 1 || chunks > maxChunks {
		return fault.InvalidField("chunks", fmt.Sprint(chunks), fmt.Sprintf("1 to %d", maxChunks))
	}
	leave, err := l.enter(ctx)
	if err != nil {
		return err
	}
	defer leave()
	st, err := l.load(ctx, importID)
	if err != nil {
		return err
	}
	switch st.State {
	case Committed, Done:
		if st.Chunks != chunks || st.Digest != hex.EncodeToString(digest[:]) {
			return fault.New(fault.Invalid, "IMPORT_DIFFERS", "another import was committed under this id")
		}
	default:
		if err := l.verify(ctx, importID, chunks, digest); err != nil {
			return err
		}
		st.State, st.Touched, st.Chunks, st.Digest = Committed, l.now().Unix(), chunks, hex.EncodeToString(digest[:])
		if err := l.save(ctx, importID, &st); err != nil {
			return err
		}
	}
	return l.roll(ctx, importID, &st)
}

// enter lets one commit at a time in.
func (l *Log) enter(ctx context.Context) (leave func(), err error) {
	select {
	case l.busy <- struct{}{}:
		return func() { <-l.busy }, nil
	case <-ctx.Done():
		return nil, unreachable(ctx.Err())
	}
}

// verify reads all chunks once, before the point of no return.
func (l *Log) verify(ctx context.Context, id string, chunks int, digest [sha256.Size]byte) error {
	h := sha256.New()
	for n := range chunks {
		chunk, err := l.chunk(ctx, id, n)
		if err != nil {
			return err
		}
		if chunk == nil {
			return fault.New(fault.FailedPrecondition, "CHUNK_MISSING", "chunk %d is not staged", n)
		}
		h.Write(chunk)
	}
	staged, err := l.count(ctx, id)
	switch {
	case err != nil:
		return err
	case staged > chunks:
		return fault.New(fault.Invalid, "CHUNK_SURPLUS", "%d chunks are staged, %d were to be committed", staged, chunks)
	case [sha256.Size]byte(h.Sum(nil)) != digest:
		return fault.New(fault.Invalid, "DIGEST_DIFFERS", "the staged chunks are not those that the digest was made of")
	}
	return nil
}

// roll carries a committed import to its end from wherever it is.
func (l *Log) roll(ctx context.Context, id string, st *state) error {
	for st.State == Committed && st.Applied < st.Chunks {
		chunk, err := l.chunk(ctx, id, st.Applied)
		if err != nil {
			return err
		}
		if chunk == nil {
			return fmt.Errorf("chunk %d of a committed import is gone", st.Applied)
		}
		if err := l.applier.Apply(ctx, chunk); err != nil {
			return fmt.Errorf("apply chunk %d: %w", st.Applied, err)
		}
		st.Applied++
		if err := l.save(ctx, id, st); err != nil {
			return err
		}
	}
	if st.State == Committed {
		st.State = Done
		if err := l.save(ctx, id, st); err != nil {
			return err
		}
	}
	return l.drop(ctx, id)
}

// drop deletes the chunks of an import. The state of one that is done stays,
// so that a late repetition of Commit is answered well.
func (l *Log) drop(ctx context.Context, id string) error {
	// One range deletion counts as one operation, however many keys it takes.
	_, err := l.store.Client().Delete(ctx, l.chunkPrefix(id), clientv3.WithPrefix())
	if err != nil {
		return unreachable(err)
	}
	return nil
}

// Recover is called at start, before anyone is served: it carries committed
// imports to their end and drops those that nobody committed for seven days.
func (l *Log) Recover(ctx context.Context) error {
	leave, err := l.enter(ctx)
	if err != nil {
		return err
	}
	defer leave()
	return l.carryOn(ctx)
}

// Pause keeps commits out until resume is called, after it has carried those
// under way to their end: for whoever replaces the key that chunks are sealed
// by.
func (l *Log) Pause(ctx context.Context) (resume func(), err error) {
	leave, err := l.enter(ctx)
	if err != nil {
		return nil, err
	}
	if err := l.carryOn(ctx); err != nil {
		leave()
		return nil, err
	}
	return leave, nil
}

// carryOn carries committed imports to their end and drops abandoned ones.
func (l *Log) carryOn(ctx context.Context) error {
	imports := map[string]state{}
	_, err := kv.Scan(ctx, l.store.Client(), l.statePrefix(), func(e kv.Entry) error {
		st, err := decode(e.Value, e.ModRevision)
		imports[strings.TrimPrefix(e.Key, l.statePrefix())] = st
		return err
	})
	if err != nil {
		return err
	}
	abandoned := l.now().Add(-abandonedAfter).Unix()
	for id, st := range imports {
		switch {
		case st.State == Staging && st.Touched < abandoned:
			if err := l.abandon(ctx, id, st); err != nil {
				return err
			}
		case st.State == Committed || st.State == Done:
			if err := l.roll(ctx, id, &st); err != nil {
				return fmt.Errorf("carry the import %s to its end: %w", id, err)
			}
		}
	}
	return nil
}

// abandon deletes the state last, so that a crash between leaves something
// for the next start to find.
func (l *Log) abandon(ctx context.Context, id string, st state) error {
	if err := l.drop(ctx, id); err != nil {
		return err
	}
	key := l.stateKey(id)
	_, err := l.store.Commit(ctx, kv.NewTxn().Unchanged(key, st.modRevision).Delete(key))
	return err
}
