package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// authority signs certificates in a test. TLS judges them by the real clock,
// so they are valid around now.
type authority struct {
	dir  string
	file string // its own certificate
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

func newAuthority(t *testing.T, name string) *authority {
	t.Helper()
	a := &authority{dir: t.TempDir(), key: newKey(t)}
	a.file = filepath.Join(a.dir, "ca.pem")
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: name},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign,
	}
	a.cert = template
	der := a.sign(t, template, a.key)
	var err error
	if a.cert, err = x509.ParseCertificate(der); err != nil {
		t.Fatal(err)
	}
	writePEM(t, a.file, "CERTIFICATE", der)
	return a
}

// sign makes a certificate of this authority.
func (a *authority) sign(t *testing.T, template *x509.Certificate, key *ecdsa.PrivateKey) []byte {
	t.Helper()
	der, err := x509.CreateCertificate(rand.Reader, template, a.cert, &key.PublicKey, a.key)
	if err != nil {
		t.Fatal(err)
	}
	return der
}

// files writes a certificate for a process that is reached at the hosts, and
// its key.
func (a *authority) files(t *testing.T, name string, hosts ...string) (cert, key string) {
	t.Helper()
	template := &x509.Certificate{
		SerialNumber: big.NewInt(2), Subject: pkix.Name{CommonName: name},
		NotBefore: a.cert.NotBefore, NotAfter: a.cert.NotAfter, KeyUsage: x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth},
	}
	for _, h := range hosts {
		if ip := net.ParseIP(h); ip != nil {
			template.IPAddresses = append(template.IPAddresses, ip)
		} else {
			template.DNSNames = append(template.DNSNames, h)
		}
	}
	own := newKey(t)
	der, err := x509.MarshalPKCS8PrivateKey(own)
	if err != nil {
		t.Fatal(err)
	}
	cert, key = filepath.Join(a.dir, name+".pem"), filepath.Join(a.dir, name+".key")
	writePEM(t, cert, "CERTIFICATE", a.sign(t, template, own))
	writePEM(t, key, "PRIVATE KEY", der)
	return cert, key
}

// serving are the flags of a process with a certificate of this authority.
func (a *authority) serving(t *testing.T, name string, hosts ...string) []string {
	t.Helper()
	cert, key := a.files(t, name, hosts...)
	return []string{"--tls-cert", cert, "--tls-key", key}
}

// trusted are the flags of a process whose peers are of this authority.
func (a *authority) trusted() []string { return []string{"--peer-ca", a.file} }

// pair is a certificate to show.
func (a *authority) pair(t *testing.T, name string) *tls.Certificate {
	t.Helper()
	pair, err := tls.LoadX509KeyPair(a.files(t, name))
	if err != nil {
		t.Fatal(err)
	}
	return &pair
}

// client trusts this authority and shows a certificate: the one that the server
// will take, as Go's TLS does, or the insisted one whatever the server says.
func (a *authority) client(offered *tls.Certificate, insisted ...*tls.Certificate) *tls.Config {
	config := &tls.Config{RootCAs: x509.NewCertPool(), MinVersion: tls.VersionTLS13}
	config.RootCAs.AddCert(a.cert)
	if offered != nil {
		config.Certificates = []tls.Certificate{*offered}
	}
	if len(insisted) > 0 {
		config.GetClientCertificate = func(*tls.CertificateRequestInfo) (*tls.Certificate, error) { return insisted[0], nil }
	}
	return config
}

func newKey(t *testing.T) *ecdsa.PrivateKey {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

func writePEM(t *testing.T, path, kind string, der []byte) {
	t.Helper()
	if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600); err != nil {
		t.Fatal(err)
	}
}
