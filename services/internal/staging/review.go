package staging

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
)

// Review gives each staged chunk, in order, to a last look before Commit, and
// the digest that Commit wants. Chunks that are missing are left to Commit to
// refuse. An error of each ends it.
//
// Once an import is committed there is nothing left to decide: then decided is
// true, each is not called, and the digest is that of the commit, so that
// calling Commit carries the import on from where it stopped.
func (l *Log) Review(ctx context.Context, importID string, each func(chunk []byte) error) (digest [sha256.Size]byte, decided bool, err error) {
	if err := validID(importID); err != nil {
		return digest, false, err
	}
	st, err := l.load(ctx, importID)
	if err != nil {
		return digest, false, err
	}
	if st.State == Committed || st.State == Done {
		sum, err := hex.DecodeString(st.Digest)
		if err != nil || len(sum) != len(digest) {
			return digest, false, fault.New(fault.Internal, "IMPORT_STATE_DAMAGED", "the digest of a committed import cannot be read")
		}
		return [sha256.Size]byte(sum), true, nil
	}
	h := sha256.New()
	_, err = kv.Scan(ctx, l.store.Client(), l.chunkPrefix(importID), func(e kv.Entry) error {
		h.Write(e.Value)
		return each(e.Value)
	})
	if err != nil {
		return digest, false, fmt.Errorf("review the staged chunks: %w", err)
	}
	return [sha256.Size]byte(h.Sum(nil)), false, nil
}

// Admit lets look see each staged chunk, asks verdict whether all of them
// together may take effect, and commits. Of an import that was committed before
// an interruption nothing is asked; it is carried on.
func (l *Log) Admit(ctx context.Context, importID string, chunks int, look func(chunk []byte) error, verdict func() error) error {
	digest, decided, err := l.Review(ctx, importID, look)
	if err != nil {
		return err
	}
	if !decided {
		if err := verdict(); err != nil {
			return err
		}
	}
	return l.Commit(ctx, importID, chunks, digest)
}
