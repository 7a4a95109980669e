package grpcserver

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"time"

	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/peer"

	"halfshaft/services/fault"
)

// The kinds of connection that Transport tells apart.
const (
	InProcess = "bufconn" // made by this process for itself
	Unix      = "unix"    // through the socket: a process of the same user
	TCP       = "tcp"
)

// Transport says by what kind of connection a call came; "" outside a call.
// It is the server's own observation, which no caller can forge.
func Transport(ctx context.Context) string {
	if p, ok := peer.FromContext(ctx); ok && p.Addr != nil {
		return p.Addr.Network()
	}
	return ""
}

// Certified reports whether the caller showed a client certificate that the
// server's TLS configuration verified. Like Transport it cannot be forged.
func Certified(ctx context.Context) bool {
	p, ok := peer.FromContext(ctx)
	if !ok {
		return false
	}
	info, ok := p.AuthInfo.(credentials.TLSInfo)
	return ok && len(info.State.VerifiedChains) > 0
}

// perTransport is TLS for TCP and plain for the connections that never leave
// the machine's user.
type perTransport struct{ tls *tls.Config }

// ServerHandshake implements credentials.TransportCredentials.
func (p perTransport) ServerHandshake(c net.Conn) (net.Conn, credentials.AuthInfo, error) {
	if p.tls != nil && c.RemoteAddr().Network() == TCP {
		return credentials.NewTLS(p.tls).ServerHandshake(c)
	}
	return insecure.NewCredentials().ServerHandshake(c)
}

// ClientHandshake implements credentials.TransportCredentials; a server makes
// none.
func (p perTransport) ClientHandshake(context.Context, string, net.Conn) (net.Conn, credentials.AuthInfo, error) {
	return nil, nil, errors.New("grpcserver: these are a server's credentials")
}

// Info implements credentials.TransportCredentials.
func (p perTransport) Info() credentials.ProtocolInfo {
	if p.tls != nil {
		return credentials.NewTLS(p.tls).Info()
	}
	return insecure.NewCredentials().Info()
}

// Clone implements credentials.TransportCredentials.
func (p perTransport) Clone() credentials.TransportCredentials { return p }

// OverrideServerName implements credentials.TransportCredentials.
func (p perTransport) OverrideServerName(string) error { return nil }

// listenUnix listens on a socket for this user alone, in a directory made
// with mode 0700 if absent. A socket that a killed process left is replaced;
// one that answers is refused.
func listenUnix(path string) (net.Listener, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, err
	}
	if err := removeStale(path); err != nil {
		return nil, err
	}
	l, err := net.Listen("unix", path)
	if err != nil {
		return nil, err
	}
	// The directory keeps others out until this is done, if it is ours.
	if err := os.Chmod(path, 0o600); err != nil {
		return nil, errors.Join(err, l.Close())
	}
	return l, nil
}

func removeStale(path string) error {
	info, err := os.Lstat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	if info.Mode().Type() != fs.ModeSocket {
		return fmt.Errorf("%s is there and not a socket", path)
	}
	if c, err := net.DialTimeout("unix", path, time.Second); err == nil {
		c.Close()
		return fault.New(fault.FailedPrecondition, "SOCKET_IN_USE", "another process answers on %s", path)
	}
	return os.Remove(path)
}
