// Package etcdtest gives tests a real etcd of their own.
package etcdtest

import (
	"log/slog"
	"sync"
	"testing"

	clientv3 "go.etcd.io/etcd/client/v3"
	"go.etcd.io/etcd/server/v3/storage/wal"

	"halfshaft/services/internal/embedetcd"
)

// segmentBytes is the size of a segment of a test's log. etcd's own, 64 MB, is
// laid out on disk before the first write, twice: a hundred short tests would
// take ten gigabytes.
const segmentBytes = 4 << 20

var smallSegments = sync.OnceFunc(func() { wal.SegmentSizeBytes = segmentBytes })

// Start runs an embedded etcd in a temporary directory until the test ends.
// Errors of etcd go to the test's log.
func Start(t testing.TB) *embedetcd.Server {
	t.Helper()
	return StartIn(t, embedetcd.Config{Dir: t.TempDir()})
}

// StartIn is Start with settings.
func StartIn(t testing.TB, c embedetcd.Config) *embedetcd.Server {
	t.Helper()
	smallSegments()
	if c.Logger == nil {
		c.Logger = slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelWarn}))
	}
	s, err := embedetcd.Start(t.Context(), c)
	if err != nil {
		t.Fatalf("start etcd: %v", err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("close etcd: %v", err)
		}
	})
	return s
}

// Client is Start for tests that need no more than a client.
func Client(t testing.TB) *clientv3.Client {
	t.Helper()
	return Start(t).Client()
}
