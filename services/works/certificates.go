package works

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"os"
	"strings"

	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"

	"halfshaft/services/fault"
	"halfshaft/services/internal/certificates"
	"halfshaft/services/internal/httpserver"
)

// Trust gives a TLS configuration that trusts the certificate authority in a
// file, and nobody else; nil for no file. setting is what a refusal names.
func Trust(setting, path string) (*tls.Config, error) {
	if path == "" {
		return nil, nil
	}
	pem, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read the certificate authority: %w", err)
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(pem) {
		return nil, fault.InvalidField(setting, path, "a PEM file with a certificate")
	}
	return &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS13}, nil
}

// CertificateFiles reads the certificate of a server and its key; nil for no
// files.
func CertificateFiles(cert, key string) (*certificates.Keeper, error) {
	if cert == "" && key == "" {
		return nil, nil
	}
	return certificates.Load(cert, key)
}

// betweenPrograms is TLS as our programs speak it to each other: 1.3 and
// nothing else, since both ends are ours.
func betweenPrograms() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS13, NextProtos: []string{"h2"}}
}

// doorTLS is what --listen keeps to; nil without a certificate. With peers it
// goes both ways: what a caller shows must be of their authority. Whether a
// caller must show one at all the door decides: people with a key need none,
// services do (accessgate.Config).
func (c Config) doorTLS() *tls.Config {
	if c.TLS == nil {
		return nil
	}
	base := betweenPrograms()
	if c.PeerTLS != nil {
		base.ClientCAs, base.ClientAuth = c.PeerTLS.RootCAs, tls.VerifyClientCertIfGiven
	}
	return c.TLS.Server(base)
}

// clusterTLS is how the cluster is spoken to. A member that asks for a
// certificate is shown that of this process.
func (c Config) clusterTLS() *tls.Config {
	config := c.EtcdTLS
	if config == nil {
		for _, endpoint := range c.Etcd {
			if strings.HasPrefix(endpoint, "https://") {
				config = &tls.Config{MinVersion: tls.VersionTLS13}
			}
		}
	}
	if config != nil && c.TLS != nil {
		config = c.TLS.Client(config)
	}
	return config
}

// pagesTLS is what pages at an address keep to: the certificate made for them,
// or that of --listen where they leave the machine; nil is plain text.
func (c Config) pagesTLS(address string, plain bool) *tls.Config {
	if keeper := c.pagesKeeper(address, plain); keeper != nil {
		return keeper.Server(httpserver.ForBrowsers())
	}
	return nil
}

func (c Config) pagesKeeper(address string, plain bool) *certificates.Keeper {
	switch {
	case c.HTTPTLS != nil:
		return c.HTTPTLS
	case local(address) || plain:
		return nil
	}
	return c.TLS
}

// provable says why the peers will not take our certificate, and nil when they
// will: it must be of their authority, for a server and for a client.
func provable(chain *tls.Certificate, peers *tls.Config) error {
	between := x509.NewCertPool()
	for _, der := range chain.Certificate[1:] {
		c, err := x509.ParseCertificate(der)
		if err != nil {
			return err
		}
		between.AddCert(c)
	}
	for _, use := range []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth} {
		_, err := chain.Leaf.Verify(x509.VerifyOptions{
			Roots: peers.RootCAs, Intermediates: between, KeyUsages: []x509.ExtKeyUsage{use},
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// watchedTLS tells when the certificate of the other end will not do, which
// does not mend itself; gRPC calls it a connection that is unavailable, and
// tries again for ever.
type watchedTLS struct {
	credentials.TransportCredentials
	unfit func(error)
}

// ClientHandshake implements credentials.TransportCredentials.
func (w watchedTLS) ClientHandshake(ctx context.Context, authority string, raw net.Conn) (net.Conn, credentials.AuthInfo, error) {
	conn, info, err := w.TransportCredentials.ClientHandshake(ctx, authority, raw)
	var certificate *tls.CertificateVerificationError
	var plain tls.RecordHeaderError
	if errors.As(err, &certificate) || errors.As(err, &plain) {
		w.unfit(err)
	}
	return conn, info, err
}

// Clone implements credentials.TransportCredentials.
func (w watchedTLS) Clone() credentials.TransportCredentials {
	return watchedTLS{w.TransportCredentials.Clone(), w.unfit}
}

// plainText is no TLS, with a better word than "EOF" when the other end wants
// some.
type plainText struct {
	credentials.TransportCredentials
}

func newPlainText() plainText { return plainText{insecure.NewCredentials()} }

// ClientHandshake implements credentials.TransportCredentials.
func (p plainText) ClientHandshake(ctx context.Context, authority string, raw net.Conn) (net.Conn, credentials.AuthInfo, error) {
	return p.TransportCredentials.ClientHandshake(ctx, authority, &silentConn{Conn: raw})
}

// Clone implements credentials.TransportCredentials.
func (p plainText) Clone() credentials.TransportCredentials { return newPlainText() }

// silentConn explains the end of a connection on which nothing ever came back:
// a server that waits for TLS hangs up on plain text without a word.
type silentConn struct {
	net.Conn
	heard bool
}

// Read implements net.Conn; gRPC reads from one goroutine.
func (c *silentConn) Read(b []byte) (int, error) {
	n, err := c.Conn.Read(b)
	c.heard = c.heard || n > 0
	if err != nil && !c.heard {
		err = fmt.Errorf("the server hung up on plain text: if it has a TLS certificate, name its authority (%w)", err)
	}
	return n, err
}
