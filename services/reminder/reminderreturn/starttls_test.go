package reminderreturn

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"math/big"
	"net"
	"net/smtp"
	"testing"
	"time"
)

// Mail between strangers is encrypted where both can (RFC 3207 section 4.1 and
// 4.2): TLS is offered, a sender that takes it hands over by it, and one that
// knows none is heard all the same.
func TestTLSIsOfferedAndNotDemanded(t *testing.T) {
	secure, roots := selfSigned(t)
	for _, c := range []struct {
		name            string
		offers          *tls.Config
		takes, offering bool
	}{
		{"a sender that takes it", secure, true, true},
		{"a sender that knows none", secure, false, true},
		{"without a certificate nothing is offered", nil, false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			var d desk
			l, _ := d.listens(t, ListenerConfig{Protocol: SMTP, Address: "127.0.0.1:0", TLS: c.offers})
			client, err := smtp.Dial(l.Addr().String())
			if err != nil {
				t.Fatal(err)
			}
			defer client.Close()
			if offered, _ := client.Extension("STARTTLS"); offered != c.offering {
				t.Errorf("offered: %v", offered)
			}
			if c.takes {
				if err := client.StartTLS(&tls.Config{RootCAs: roots, ServerName: "127.0.0.1"}); err != nil {
					t.Fatal(err)
				}
				if state, ok := client.TLSConnectionState(); !ok || state.Version < tls.VersionTLS12 {
					t.Errorf("not encrypted: %v, %x", ok, state.Version)
				}
			}
			if err := send(client, "", path.Address(theirs), sample(t, "person")); err != nil || len(d.taken) != 1 {
				t.Errorf("%v, %d taken", err, len(d.taken))
			}
		})
	}
}

func selfSigned(t *testing.T) (*tls.Config, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(leaf)
	return &tls.Config{MinVersion: tls.VersionTLS12, Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}, roots
}
