package deploy_test

import (
	"crypto/tls"
	"crypto/x509"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"halfshaft/services/works"
)

// pki is a directory with ca.pem, member.pem and member.key, as
// /etc/etcd/pki holds them.
type pki string

// newPKI makes an authority and one certificate that fits every member on this
// machine, as OPERATIONS.md says to. TLS judges it by the real clock, so it is
// made by that.
func newPKI(t *testing.T, dir string) pki {
	t.Helper()
	at := filepath.Join(dir, "authority")
	signing := works.Authority{Dir: at, Now: time.Now(), Out: io.Discard}
	if err := signing.Create("Aldermoor Works"); err != nil {
		t.Fatal(err)
	}
	if err := signing.Issue("member", []string{"127.0.0.1"}, "etcd", 0); err != nil {
		t.Fatal(err)
	}
	for from, to := range map[string]string{"ca.pem": "ca.pem", "issued/member.pem": "member.pem", "issued/member.key": "member.key"} {
		if err := os.Link(filepath.Join(at, from), filepath.Join(dir, to)); err != nil {
			t.Fatal(err)
		}
	}
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
