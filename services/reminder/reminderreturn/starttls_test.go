package reminderreturn

import (
	"crypto/tls"
	"net/smtp"
	"testing"

	"halfshaft/services/internal/selfsigned"
)

// Mail between strangers is encrypted where both can (RFC 3207 section 4.1 and
// 4.2): TLS is offered, a sender that takes it hands over by it, and one that
// knows none is heard all the same.
func TestTLSIsOfferedAndNotDemanded(t *testing.T) {
	pair, roots := selfsigned.New(t, "127.0.0.1")
	secure := &tls.Config{MinVersion: tls.VersionTLS12, Certificates: []tls.Certificate{pair}}
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
