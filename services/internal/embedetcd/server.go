// Package embedetcd runs etcd inside this process, for a works that needs no
// cluster. It opens no TCP port: the process itself talks to the server by
// direct calls, and operators' tools through a unix socket in a directory
// that only its owner may enter.
//
// Under the data directory stand:
//
//	LOCK            held (flock) while a process uses the directory; its pid inside
//	etcd/           etcd's own files
//	run/etcd.sock   the socket; left out where the path is too long for one
package embedetcd

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"go.etcd.io/etcd/server/v3/embed"
	"go.etcd.io/etcd/server/v3/etcdserver/api/v3client"
	"google.golang.org/grpc"

	"halfshaft/services/fault"
)

// DefaultQuotaBytes is the largest size of the database file that etcd's
// operations guide suggests: 8 GiB.
const DefaultQuotaBytes = 8 << 30

// startLimit is how long Start waits for the server to become ready. Start
// takes well under a second; replaying a long log on a slow disk takes more.
const startLimit = 60 * time.Second

// Config says where etcd keeps its files. Only Dir is needed.
type Config struct {
	Dir        string       // data directory, made with mode 0700 if absent
	Logger     *slog.Logger // nil: say nothing
	QuotaBytes int64        // 0: DefaultQuotaBytes
}

// snapshotEvery is after how many entries of its log the store makes a snapshot
// on disk.
const snapshotEvery = 500

// memberName is this etcd's name among its members, of which it is the only
// one. A restored directory must bear the same.
const memberName = "halfshaft"

// Server is a running etcd with one member. Its methods are safe for
// concurrent use.
type Server struct {
	dir    string
	lock   *dirLock
	etcd   *embed.Etcd
	client *clientv3.Client
	quota  int64
	log    *quietCore

	socket     string // path of the unix socket, "" for none
	socketGRPC *grpc.Server
	socketDone chan struct{}

	closeOnce sync.Once
	closeErr  error
}

// Start runs etcd over c.Dir and returns when it answers. A directory that
// another process holds is refused at once with FailedPrecondition and reason
// DATA_DIR_IN_USE. Files and sockets that a killed process left behind are
// taken over. ctx bounds the start only; Close ends the server.
func Start(ctx context.Context, c Config) (*Server, error) {
	if c.Dir == "" {
		return nil, fault.InvalidField("dir", "", "the path of a data directory")
	}
	if c.QuotaBytes == 0 {
		c.QuotaBytes = DefaultQuotaBytes
	}
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	dir, err := filepath.Abs(c.Dir)
	if err != nil {
		return nil, fmt.Errorf("data directory: %w", err)
	}
	for _, d := range []string{dir, filepath.Join(dir, "etcd"), filepath.Join(dir, "run")} {
		if err := os.MkdirAll(d, 0o700); err != nil {
			return nil, fmt.Errorf("make the data directory: %w", err)
		}
	}
	// The directory itself keeps the mode its owner gave it; what is ours in
	// it is closed to others, even after a careless copy or restore.
	for _, d := range []string{"etcd", "run"} {
		if err := os.Chmod(filepath.Join(dir, d), 0o700); err != nil {
			return nil, fmt.Errorf("close the data directory to others: %w", err)
		}
	}
	lock, err := lockDir(dir)
	if err != nil {
		return nil, err
	}
	s := &Server{dir: dir, lock: lock, quota: c.QuotaBytes, log: &quietCore{logger: c.Logger}}
	if err := s.start(ctx); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

func (s *Server) start(ctx context.Context) error {
	var err error
	if s.etcd, err = embed.StartEtcd(s.config()); err != nil {
		return fmt.Errorf("start etcd: %w", err)
	}
	limit := time.NewTimer(startLimit)
	defer limit.Stop()
	select {
	case <-s.etcd.Server.ReadyNotify():
	case <-s.etcd.Server.StopNotify():
		return errors.New("start etcd: the server stopped before it was ready")
	case err := <-s.etcd.Err():
		return fmt.Errorf("start etcd: %w", err)
	case <-limit.C:
		return fmt.Errorf("start etcd: not ready after %v", startLimit)
	case <-ctx.Done():
		return fmt.Errorf("start etcd: %w", ctx.Err())
	}
	s.client = v3client.New(s.etcd.Server)
	return s.openSocket()
}

// config makes the settings of a one-member etcd whose memory stays small.
func (s *Server) config() *embed.Config {
	c := embed.NewConfig()
	c.Name = memberName
	c.InitialCluster = c.InitialClusterFromName(c.Name)
	c.Dir = filepath.Join(s.dir, "etcd")
	c.QuotaBackendBytes = s.quota

	// No listeners of etcd's own: openSocket serves the socket, because
	// etcd's way of closing one waits seconds for clients with open watches.
	c.ListenPeerUrls, c.ListenClientUrls = nil, nil
	c.AdvertiseClientUrls = []url.URL{{Scheme: "unix", Host: s.socketPath()}}
	c.EnableGRPCGateway = false

	// A lone member has nobody to wait for: short ticks let it elect itself
	// within a tenth of a second instead of up to two.
	c.TickMs, c.ElectionMs = 20, 100

	// The log kept in memory, short because there are no followers. But never
	// shorter than what a start may have to apply again, all that came after the
	// last snapshot on disk: while that is being applied, an election may fall
	// due and look through it once more, and to find it gone ends the process.
	c.SnapshotCount, c.SnapshotCatchUpEntries = snapshotEvery, 2*snapshotEvery

	c.AutoCompactionMode, c.AutoCompactionRetention = embed.CompactorModePeriodic, "1h"
	c.ZapLoggerBuilder = embed.NewZapLoggerBuilder(s.log.zap())
	return c
}

// Client gives the client that calls the server directly, without a socket.
// Close closes it.
func (s *Server) Client() *clientv3.Client { return s.client }

// Endpoint gives the address of the unix socket for another process's etcd
// client, "unix:///…", or "" when the path was too long for a socket.
func (s *Server) Endpoint() string {
	if s.socket == "" {
		return ""
	}
	return "unix://" + s.socket
}

// Done is closed when the server has stopped, by Close or by itself.
func (s *Server) Done() <-chan struct{} { return s.etcd.Server.StopNotify() }

// Close stops the server, whatever its clients are doing, and frees the
// directory. What was acknowledged is on disk already; Close loses nothing.
// It may be called again.
func (s *Server) Close() error {
	s.closeOnce.Do(func() { s.closeErr = s.close() })
	return s.closeErr
}

func (s *Server) close() error {
	s.log.closing.Store(true)
	s.closeSocket()
	var errs []error
	if s.client != nil {
		// The client's context is what its watches hang on. It answers
		// context.Canceled when it closes well.
		if err := s.client.Close(); err != nil && !errors.Is(err, context.Canceled) {
			errs = append(errs, fmt.Errorf("close the etcd client: %w", err))
		}
	}
	if s.etcd != nil {
		s.etcd.Close()
	}
	return errors.Join(append(errs, s.lock.release())...)
}
