package works

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"slices"
	"strings"
	"time"

	"google.golang.org/grpc"

	"halfshaft/services/access/accessgate"
	"halfshaft/services/fault"
)

// Target says where a command finds the services: at a server by name, else at
// the process that has the data directory, else in this process itself.
type Target struct {
	Data    string   // data directory
	Servers []string // "host:port" or "unix:PATH"; "parts=host:port" for one service of a split; none: see above
	Key     string   // API key; not needed on the socket of the data directory
	CA      string   // certificate authority of the servers, a PEM file

	Clock  func() time.Time
	Logger *slog.Logger
}

// Session is an open way to the services.
type Session struct {
	Clients
	operator bool
	closers  []func() error
}

// Open finds the services.
func Open(ctx context.Context, t Target) (*Session, error) {
	switch {
	case len(t.Servers) > 0:
		return t.remote(t.Servers)
	case answers(SocketPath(t.Data)):
		return t.remote([]string{"unix:" + SocketPath(t.Data)})
	}
	if _, err := os.Stat(t.Data); err != nil {
		return nil, fmt.Errorf("there is no data directory %s and nobody answers there: start \"halfshaft serve\", or name another with --data or --server", t.Data)
	}
	p, err := Start(ctx, Config{Data: t.Data, Clock: t.Clock, Logger: t.Logger, Passes: Never})
	if err != nil {
		return nil, err
	}
	return p.Session(), nil
}

// OpenNew is Open for a command that may begin with an empty directory.
func OpenNew(ctx context.Context, t Target) (*Session, error) {
	if len(t.Servers) == 0 {
		if err := makeDirs(t.Data); err != nil {
			return nil, err
		}
	}
	return Open(ctx, t)
}

// Session opens the services of this process to the one who runs it; closing
// it stops the process.
func (p *Process) Session() *Session {
	return &Session{Clients: p.Clients(), operator: true, closers: []func() error{p.Close}}
}

// remote dials the servers.
func (t Target) remote(servers []string) (*Session, error) {
	secure, err := Trust("tls-ca", t.CA)
	if err != nil {
		return nil, err
	}
	session := &Session{}
	of := map[string]grpc.ClientConnInterface{}
	for _, text := range servers {
		service, address, split := strings.Cut(text, "=")
		if !split {
			service, address = "", text
		} else if !slices.Contains(AllServices, service) {
			return nil, errors.Join(fault.InvalidField("server", text, "an address, or one of "+strings.Join(AllServices, ", ")+" = an address"), session.Close())
		}
		conn, err := Dial(address, secure)
		if err != nil {
			return nil, errors.Join(err, session.Close())
		}
		session.closers = append(session.closers, conn.Close)
		of[service] = accessgate.Present(conn, t.Key)
	}
	for _, service := range AllServices {
		if of[service] == nil && of[""] == nil {
			return nil, errors.Join(fault.InvalidField("server", strings.Join(servers, " "), service+"=ADDRESS, or an address for all others"), session.Close())
		}
	}
	session.Clients = newClients(func(service string) grpc.ClientConnInterface {
		if conn := of[service]; conn != nil {
			return conn
		}
		return of[""]
	})
	return session, nil
}

// Context gives the context for the calls of this session.
func (s *Session) Context(ctx context.Context) context.Context {
	if s.operator {
		return Operator(ctx)
	}
	return ctx
}

// Remote says whether a server is asked, whose today is its own; otherwise the
// services run in this process, by the clock of the target.
func (s *Session) Remote() bool { return !s.operator }

// Close ends the session.
func (s *Session) Close() error {
	var errs []error
	for _, c := range s.closers {
		errs = append(errs, c())
	}
	s.closers = nil
	return errors.Join(errs...)
}

// answers reports whether a process listens on a unix socket.
func answers(path string) bool {
	conn, err := net.DialTimeout("unix", path, time.Second)
	if err != nil {
		return false
	}
	conn.Close()
	return true
}
