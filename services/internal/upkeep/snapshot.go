package upkeep

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"time"

	"github.com/gofrs/flock"
	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/fault"
	"halfshaft/services/internal/wholefile"
)

const (
	lockName   = ".lock"
	takingName = ".taking-"            // directories of snapshots that do not count yet
	fileLayout = time.DateOnly + ".db" // what a snapshot that counts is called, by its day in UTC
	logBytes   = int64(2 * 64 << 20)   // etcd's log in a restored directory: two segments set aside
)

// Take makes a snapshot of the store in c.SnapshotDir, called by the day of
// c.Clock in UTC, and gives up old ones beyond c.Keep. It needs no more of c
// than those and Client, so that it works from outside of the process too.
//
// Until it was restored into a scratch directory, and the restored store and
// the live one hold the same keys at the same revision, the file stands under
// a hidden name; then it takes the place of another of the same day. A
// snapshot that proves damaged is logged as an error, removed, and refused with
// SNAPSHOT_DAMAGED; no older one is touched. Further refusals, all
// FailedPrecondition: SNAPSHOT_UNDER_WAY, SNAPSHOT_NO_ROOM where the disk has
// not the room for the file and its scratch copy, STORE_CORRUPT.
func Take(ctx context.Context, c Config) (Snapshot, error) {
	c = c.normal()
	s, err := c.take(ctx, diskRoom)
	if err != nil && ctx.Err() == nil {
		c.Logger.Error("there is no new snapshot", "dir", c.SnapshotDir, "error", err)
	}
	return s, err
}

func (c Config) take(ctx context.Context, room func(dir string) (int64, error)) (Snapshot, error) {
	if err := os.MkdirAll(c.SnapshotDir, 0o700); err != nil {
		return Snapshot{}, fmt.Errorf("make the snapshot directory: %w", err)
	}
	unlock, err := lockSnapshots(c.SnapshotDir)
	if err != nil {
		return Snapshot{}, err
	}
	defer unlock()
	if err := clearLeftovers(c.SnapshotDir); err != nil {
		return Snapshot{}, err
	}
	if err := c.mayTake(ctx, room); err != nil {
		return Snapshot{}, err
	}
	work, err := os.MkdirTemp(c.SnapshotDir, takingName)
	if err != nil {
		return Snapshot{}, fmt.Errorf("make a scratch directory: %w", err)
	}
	defer os.RemoveAll(work)

	name := c.Clock().UTC().Format(fileLayout)
	partial := filepath.Join(work, name)
	if err := download(ctx, c.Client, partial); err != nil {
		return Snapshot{}, err
	}
	held, err := c.prove(ctx, partial, filepath.Join(work, "scratch"))
	if err != nil {
		return Snapshot{}, err
	}
	path := filepath.Join(c.SnapshotDir, name)
	if err := os.Rename(partial, path); err != nil {
		return Snapshot{}, fmt.Errorf("put the snapshot in place: %w", err)
	}
	if err := wholefile.SyncDir(c.SnapshotDir); err != nil {
		return Snapshot{}, fmt.Errorf("write the snapshot directory through: %w", err)
	}
	s, err := describe(path, held)
	if err != nil {
		return Snapshot{}, err
	}
	c.Logger.Info("a snapshot was taken, restored and compared",
		"path", path, "revision", s.Revision, "keys", s.Keys, "mib", mib(s.Bytes))
	return s, prune(c.SnapshotDir, name, c.Keep)
}

// prove restores a snapshot into a scratch directory and compares it with the
// live store at the snapshot's revision.
func (c Config) prove(ctx context.Context, path, scratch string) (contents, error) {
	held, err := restore(ctx, path, scratch, c.Logger)
	if err != nil {
		return contents{}, err
	}
	live, err := liveContents(ctx, c.Client, held.revision)
	if err != nil {
		return contents{}, err
	}
	return held, held.equal(live, path, "it")
}

// mayTake refuses what would do harm: filling the disk that the store needs,
// and letting snapshots of a store that doubts itself push out good ones.
func (c Config) mayTake(ctx context.Context, room func(string) (int64, error)) error {
	s, err := c.state(ctx)
	if err != nil {
		return err
	}
	if s.level() == corrupt {
		return fault.New(fault.FailedPrecondition, "STORE_CORRUPT",
			"the store says of itself that it is corrupt: no snapshot of it is taken, and the old ones are kept")
	}
	free, err := room(c.SnapshotDir)
	if err != nil {
		return err
	}
	if need := 2*s.usage.File + logBytes; free < need {
		return fault.New(fault.FailedPrecondition, "SNAPSHOT_NO_ROOM",
			"a snapshot and its scratch copy need %d MiB in %s, and %d MiB are free", mib(need), c.SnapshotDir, mib(free))
	}
	return nil
}

// diskRoom gives the bytes that this process may still write where dir is.
func diskRoom(dir string) (int64, error) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(dir, &s); err != nil {
		return 0, fmt.Errorf("ask for the room on the disk: %w", err)
	}
	return int64(s.Bavail) * int64(s.Bsize), nil
}

// lockSnapshots keeps a second snapshot out while one is made: a command of an
// operator and the night's job share the directory.
func lockSnapshots(dir string) (unlock func(), err error) {
	lock := flock.New(filepath.Join(dir, lockName), flock.SetPermissions(0o600))
	switch ok, err := lock.TryLock(); {
	case err != nil:
		return nil, fmt.Errorf("lock the snapshot directory: %w", err)
	case !ok:
		return nil, fault.New(fault.FailedPrecondition, "SNAPSHOT_UNDER_WAY", "another snapshot is being taken in %s", dir)
	}
	return func() { _ = lock.Unlock() }, nil // the kernel drops it at the latest with the process
}

// clearLeftovers removes what a process that died left half-made.
func clearLeftovers(dir string) error {
	left, err := filepath.Glob(filepath.Join(dir, takingName+"*"))
	if err != nil {
		return fmt.Errorf("look for leftovers: %w", err)
	}
	for _, path := range left {
		if err := os.RemoveAll(path); err != nil {
			return fmt.Errorf("clear a leftover away: %w", err)
		}
	}
	return nil
}

// download writes the database at one revision, and etcd's checksum after it,
// through to the disk. The store goes on working meanwhile.
func download(ctx context.Context, client *clientv3.Client, path string) (err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("take a snapshot: %w", err)
		}
	}()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel() // ends the stream also when writing fails
	from, err := client.Snapshot(ctx)
	if err != nil {
		return err
	}
	defer from.Close()
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	if _, err := io.Copy(file, from); err != nil {
		return errors.Join(err, file.Close())
	}
	return errors.Join(file.Sync(), file.Close())
}

// prune removes the oldest snapshots until keep are left. The one just proved
// always stays, even where a clock that once ran ahead has left later names
// behind. Other files are not ours to remove.
func prune(dir, proved string, keep int) error {
	files, err := os.ReadDir(dir)
	if err != nil {
		return fmt.Errorf("list the snapshots: %w", err)
	}
	var names []string
	for _, f := range files {
		if _, err := time.Parse(fileLayout, f.Name()); err == nil && f.Type().IsRegular() && f.Name() != proved {
			names = append(names, f.Name())
		}
	}
	slices.Sort(names) // the layout sorts by date
	for len(names) > keep-1 {
		if err := os.Remove(filepath.Join(dir, names[0])); err != nil {
			return fmt.Errorf("remove an old snapshot: %w", err)
		}
		names = names[1:]
	}
	return nil
}
