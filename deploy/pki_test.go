package deploy_test

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

// pki is a directory with ca.pem, member.pem and member.key, as
// /etc/etcd/pki holds them.
type pki string

// newPKI makes an authority and one certificate that fits every member on this
// machine. TLS judges it by the real clock, so it is valid around now.
func newPKI(t *testing.T, dir string) pki {
	t.Helper()
	now := time.Now()
	authority := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "works authority"},
		NotBefore: now.Add(-time.Hour), NotAfter: now.Add(time.Hour),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign,
	}
	member := &x509.Certificate{
		SerialNumber: big.NewInt(2), Subject: pkix.Name{CommonName: "member"},
		NotBefore: authority.NotBefore, NotAfter: authority.NotAfter,
		KeyUsage:    x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth},
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	authorityKey, memberKey := newKey(t), newKey(t)
	memberDER, err := x509.MarshalPKCS8PrivateKey(memberKey)
	if err != nil {
		t.Fatal(err)
	}
	writePEM(t, filepath.Join(dir, "ca.pem"), "CERTIFICATE", sign(t, authority, authority, authorityKey, authorityKey))
	writePEM(t, filepath.Join(dir, "member.pem"), "CERTIFICATE", sign(t, member, authority, memberKey, authorityKey))
	writePEM(t, filepath.Join(dir, "member.key"), "PRIVATE KEY", memberDER)
	return pki(dir)
}

// tls makes the settings of somebody who trusts the authority, with or without
// a certificate to show.
func (p pki) tls(t *testing.T, certificate bool) *tls.Config {
	t.Helper()
	ca, err := os.ReadFile(filepath.Join(string(p), "ca.pem"))
	if err != nil {
		t.Fatal(err)
	}
	config := &tls.Config{RootCAs: x509.NewCertPool(), MinVersion: tls.VersionTLS13}
	config.RootCAs.AppendCertsFromPEM(ca)
	if certificate {
		own, err := tls.LoadX509KeyPair(filepath.Join(string(p), "member.pem"), filepath.Join(string(p), "member.key"))
		if err != nil {
			t.Fatal(err)
		}
		config.Certificates = []tls.Certificate{own}
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

func sign(t *testing.T, certificate, by *x509.Certificate, key, byKey *ecdsa.PrivateKey) []byte {
	t.Helper()
	der, err := x509.CreateCertificate(rand.Reader, certificate, by, &key.PublicKey, byKey)
	if err != nil {
		t.Fatal(err)
	}
	return der
}

func writePEM(t *testing.T, path, kind string, der []byte) {
	t.Helper()
	if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600); err != nil {
		t.Fatal(err)
	}
}
