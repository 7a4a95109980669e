package embedetcd

import (
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"

	"go.etcd.io/etcd/etcdutl/v3/snapshot"

	"halfshaft/services/fault"
	"halfshaft/services/internal/wholefile"
)

// RevisionBump is how far a restore lifts the store's revision, so that none
// given out since the snapshot (an etag, where a watch stood) comes twice with
// another meaning. A thousand million is what etcd's guide to disaster recovery
// takes: more than a works writes between two snapshots.
const RevisionBump = 1_000_000_000

// Restore makes the store in a data directory from a snapshot, with its
// revision lifted by RevisionBump and all before it marked compacted, so that
// whoever followed the old store reads the new one from the beginning.
//
// Only a directory without a store is taken: one with anything under etcd/ is
// refused with FailedPrecondition DATA_DIR_NOT_EMPTY, one in use with
// DATA_DIR_IN_USE. A restore that was cut short leaves no store behind.
// What the snapshot's checksum does not cover is not judged here.
func Restore(snapshotPath, dataDir string, logger *slog.Logger) error {
	if logger == nil {
		logger = slog.New(slog.DiscardHandler)
	}
	dir, err := filepath.Abs(dataDir)
	if err != nil {
		return fmt.Errorf("data directory: %w", err)
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("make the data directory: %w", err)
	}
	lock, err := lockDir(dir)
	if err != nil {
		return err
	}
	s := &Server{dir: dir, lock: lock, log: &quietCore{logger: logger}}
	return errors.Join(s.restore(snapshotPath), lock.release())
}

func (s *Server) restore(snapshotPath string) error {
	c := s.config()
	switch held, err := os.ReadDir(c.Dir); {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return fmt.Errorf("look into the data directory: %w", err)
	case len(held) > 0:
		return fault.New(fault.FailedPrecondition, "DATA_DIR_NOT_EMPTY",
			"there is a store in %s already, and a restore never overwrites one: move it away", c.Dir)
	}
	partial := filepath.Join(s.dir, "etcd.restoring")
	if err := os.RemoveAll(partial); err != nil {
		return fmt.Errorf("clear away a restore that was cut short: %w", err)
	}
	peers := make([]string, len(c.AdvertisePeerUrls))
	for i, u := range c.AdvertisePeerUrls {
		peers[i] = u.String()
	}
	err := snapshot.NewV3(s.log.zap()).Restore(snapshot.RestoreConfig{
		SnapshotPath: snapshotPath, OutputDataDir: partial,
		Name: c.Name, PeerURLs: peers, InitialCluster: c.InitialCluster, InitialClusterToken: c.InitialClusterToken,
		RevisionBump: RevisionBump, MarkCompacted: true,
	})
	if err != nil {
		return errors.Join(fmt.Errorf("restore %s: %w", snapshotPath, err), os.RemoveAll(partial))
	}
	if err := os.Remove(c.Dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("replace the empty store: %w", err)
	}
	if err := errors.Join(os.Rename(partial, c.Dir), wholefile.SyncDir(filepath.Dir(c.Dir))); err != nil {
		return fmt.Errorf("put the restored store in place: %w", err)
	}
	return nil
}

// Database gives the path of the database file of the store in a data
// directory, for reading one that no process uses.
func Database(dataDir string) string {
	return filepath.Join(dataDir, "etcd", "member", "snap", "db")
}
