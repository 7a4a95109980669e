package works

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"path/filepath"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/internal/embedetcd"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/upkeep"
)

// snapshotsPath is where the snapshots of the embedded store stand, below the
// data directory.
const snapshotsPath = "snapshots"

// upkeep keeps the store healthy until the process stops.
func (p *Process) upkeep(ctx context.Context, store *kv.Store) error {
	c := upkeep.Config{
		Etcd: p.etcd, Client: p.client, Store: store, Services: AllServices, Clock: p.config.Clock, Logger: p.config.Logger,
	}
	if p.config.Snapshots {
		c.SnapshotDir = filepath.Join(p.config.Data, snapshotsPath)
	}
	return upkeep.Run(ctx, c)
}

// TakeSnapshot makes a snapshot of the store over a data directory, whether a
// process serves it or not, restores it into a scratch directory and compares
// the two before it counts.
func TakeSnapshot(ctx context.Context, data string, logger *slog.Logger, out io.Writer) error {
	client, closeStore, err := storeOf(ctx, data, logger)
	if err != nil {
		return err
	}
	defer closeStore()
	s, err := upkeep.Take(ctx, upkeep.Config{Client: client, SnapshotDir: filepath.Join(data, snapshotsPath), Clock: time.Now, Logger: logger})
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "%s holds %d keys at revision %d in %d bytes; it was restored and compared.\nThe secrets in %s are not in it: keep copies of them elsewhere. Copy %s with it: the files of issued handbooks are not in it either.\n",
		s.Path, s.Keys, s.Revision, s.Bytes, filepath.Join(data, "secrets"), filepath.Join(data, handbooksPath))
	return err
}

// storeOf reaches the store of a running process through its socket, or opens
// it.
func storeOf(ctx context.Context, data string, logger *slog.Logger) (*clientv3.Client, func(), error) {
	socket := filepath.Join(data, "run", "etcd.sock")
	if answers(socket) {
		client, err := clientv3.New(clientv3.Config{Endpoints: []string{"unix://" + socket}, DialTimeout: 5 * time.Second})
		if err != nil {
			return nil, nil, err
		}
		return client, func() { client.Close() }, nil
	}
	server, err := embedetcd.Start(ctx, embedetcd.Config{Dir: data, Logger: logger})
	if err != nil {
		return nil, nil, err
	}
	return server.Client(), func() { server.Close() }, nil
}

// RestoreSnapshot makes the store of an empty data directory from a snapshot.
func RestoreSnapshot(ctx context.Context, snapshot, data string, logger *slog.Logger, out io.Writer) error {
	s, err := upkeep.Restore(ctx, snapshot, data, logger)
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "%d keys at revision %d restored into %s.\n", s.Keys, s.Revision, data)
	if _, err := CheckHandbooks(ctx, data, logger, out); err != nil {
		return fmt.Errorf("look for the files of issued handbooks: %w", err)
	}
	_, err = fmt.Fprintf(out, "Put the secrets of the old directory into %s before you serve it, and mind that notices sent since the snapshot are forgotten: try \"halfshaft pass --dry-run\" first.\n", filepath.Join(data, "secrets"))
	return err
}
