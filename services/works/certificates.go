package works

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"os"

	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"

	"halfshaft/services/fault"
)

// CAFile gives a TLS configuration that trusts one certificate authority; nil
// for no file.
func CAFile(path string) (*tls.Config, error) {
	if path == "" {
		return nil, nil
	}
	pem, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read the certificate authority: %w", err)
	}
	pool := x509.NewCertPool()
	if !pool.AppendCertsFromPEM(pem) {
		return nil, fault.InvalidField("tls-ca", path, "a PEM file with a certificate")
	}
	return &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS13}, nil
}

// CertificateFiles gives the TLS configuration of a server; nil for no files.
func CertificateFiles(cert, key string) (*tls.Config, error) {
	if cert == "" && key == "" {
		return nil, nil
	}
	pair, err := tls.LoadX509KeyPair(cert, key)
	if err != nil {
		return nil, errors.Join(fault.InvalidField("tls-cert, tls-key", cert+", "+key, "a certificate and its key, PEM"), err)
	}
	return &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS13, NextProtos: []string{"h2"}}, nil
}

// mutual makes TLS between processes go both ways: what this process shows its
// callers it shows its peers as well, and what a caller shows must be of the
// peers' authority. Whether a caller must show one at all the door decides:
// people with a key need none, services do (accessgate.Config).
func mutual(server, peers *tls.Config) (*tls.Config, *tls.Config) {
	server, peers = server.Clone(), peers.Clone()
	peers.Certificates = server.Certificates
	server.ClientCAs, server.ClientAuth = peers.RootCAs, tls.VerifyClientCertIfGiven
	return server, peers
}

// provable says why the peers will not take our certificate, and nil when they
// will: it must be of their authority, for a server and for a client.
func provable(server, peers *tls.Config) error {
	chain := server.Certificates[0]
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
