package upkeep

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"

	"halfshaft/services/internal/embedetcd"
)

// Snapshot says what a snapshot holds.
type Snapshot struct {
	Path     string
	Revision int64 // of the store it was taken from
	Keys     int
	Bytes    int64 // size of the file
}

// Restore makes the store in dataDir from a snapshot, after reading the
// snapshot from end to end, and reads what it made as well. The store's
// revision is lifted by embedetcd.RevisionBump, and all before it counts as
// compacted. Refused, all with FailedPrecondition, are a damaged snapshot
// (SNAPSHOT_DAMAGED), a directory that holds a store (DATA_DIR_NOT_EMPTY) and
// one in use (DATA_DIR_IN_USE). Secrets and snapshots beside the store may be
// there and are left alone; the package comment says which secrets must be.
//
// The restored store has forgotten all that happened since the snapshot, also
// which notices went out: a sending pass over it sends them a second time.
func Restore(ctx context.Context, snapshot, dataDir string, logger *slog.Logger) (Snapshot, error) {
	c, err := restore(ctx, snapshot, dataDir, logger)
	if err != nil {
		return Snapshot{}, err
	}
	return describe(snapshot, c)
}

// restore is what an operator does and what proves a snapshot, in one.
func restore(ctx context.Context, snapshot, dataDir string, logger *slog.Logger) (contents, error) {
	if err := checksum(snapshot); err != nil {
		return contents{}, err
	}
	c, err := fileContents(ctx, snapshot)
	if err != nil {
		return contents{}, err
	}
	if err := embedetcd.Restore(snapshot, dataDir, logger); err != nil {
		return contents{}, err
	}
	restored, err := fileContents(ctx, embedetcd.Database(dataDir))
	if err == nil {
		lifted := c
		lifted.revision += embedetcd.RevisionBump
		err = restored.equal(lifted, snapshot, "its restored copy")
	}
	if err != nil {
		// It was made here, from nothing: a doubtful store must not be started.
		return contents{}, errors.Join(err, os.RemoveAll(filepath.Join(dataDir, "etcd")))
	}
	return c, nil
}

func describe(path string, c contents) (Snapshot, error) {
	info, err := os.Stat(path)
	if err != nil {
		return Snapshot{}, err
	}
	return Snapshot{Path: path, Revision: c.revision, Keys: c.keys, Bytes: info.Size()}, nil
}
