package embedetcd

import (
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"

	"go.etcd.io/etcd/server/v3/etcdserver/api/v3rpc"
)

// longestSocketPath is what sockaddr_un holds on Linux (108 bytes with the
// final zero, unix(7)), which is the least among the systems Go runs on but
// for a few with 104.
const longestSocketPath = 103

func (s *Server) socketPath() string { return filepath.Join(s.dir, "run", "etcd.sock") }

// openSocket serves etcd's API to other processes of the same user. A path
// too long for a socket costs only that access, not the start.
func (s *Server) openSocket() error {
	path := s.socketPath()
	if len(path) > longestSocketPath {
		s.log.logger.Warn("etcd: no socket for other processes: its path would be too long",
			"bytes", len(path), "most", longestSocketPath)
		return nil
	}
	// We hold the directory's lock: a socket that is here is a dead one.
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("remove the stale etcd socket: %w", err)
	}
	l, err := net.Listen("unix", path)
	if err != nil {
		return fmt.Errorf("listen on the etcd socket: %w", err)
	}
	s.socket, s.socketDone = path, make(chan struct{})
	s.socketGRPC = v3rpc.Server(s.etcd.Server, nil, nil)
	go func() {
		defer close(s.socketDone)
		// Serve returns an error only when the listener breaks, which for a
		// unix socket means that closeSocket closed it.
		if err := s.socketGRPC.Serve(l); err != nil {
			s.log.logger.Error("etcd: the socket broke", "error", err)
		}
	}()
	return nil
}

// closeSocket drops the clients at once: those with watches would never leave.
func (s *Server) closeSocket() {
	if s.socketGRPC == nil {
		return
	}
	s.socketGRPC.Stop()
	<-s.socketDone
}
