package certificates

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// kept is a keeper over the files of a process, and the serial it has.
func kept(t *testing.T, a *Authority, now time.Time) *Keeper {
	t.Helper()
	issued(t, a, Request{Name: "records", Hosts: []string{"127.0.0.1"}, For: ForProcess}, now)
	k, err := Load(a.Files("records"))
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// shown is the serial that a caller of an address, who names no host, is shown.
func shown(t *testing.T, server *tls.Config, roots *x509.CertPool) string {
	t.Helper()
	ours, theirs := net.Pipe()
	defer ours.Close()
	go func() {
		s := tls.Server(theirs, server)
		_ = s.Handshake()
		_, _ = io.Copy(io.Discard, s)
		s.Close()
	}()
	client := tls.Client(ours, &tls.Config{RootCAs: roots, ServerName: "127.0.0.1", MinVersion: tls.VersionTLS13})
	if err := client.Handshake(); err != nil {
		t.Fatal(err)
	}
	return client.ConnectionState().PeerCertificates[0].SerialNumber.String()
}

func TestANewCertificateIsShownWithoutARestart(t *testing.T) {
	now := time.Now()
	a := made(t, now)
	k := kept(t, a, now)
	roots := x509.NewCertPool()
	roots.AddCert(a.cert)
	config := k.Server(&tls.Config{MinVersion: tls.VersionTLS13})
	first := shown(t, config, roots)
	if first != k.Current().Leaf.SerialNumber.String() || shown(t, config, roots) != first {
		t.Error("it shows another")
	}
	if _, err := a.Renew("records", 0, now); err != nil {
		t.Fatal(err)
	}
	second := shown(t, config, roots)
	if second == first || second != k.Current().Leaf.SerialNumber.String() {
		t.Errorf("after the exchange it shows %s, before %s", second, first)
	}
}

func TestWhatWillNotDoIsNotTaken(t *testing.T) {
	now := time.Now()
	a, other := made(t, now), made(t, now)
	k := kept(t, a, now)
	var log bytes.Buffer
	k.Require(func(pair *tls.Certificate) error {
		if pair.Leaf.CheckSignatureFrom(a.cert) != nil {
			return errors.New("it is of another authority")
		}
		return nil
	}, slog.New(slog.NewTextHandler(&log, nil)))
	good := k.Current()
	write := func(cert, key string) {
		t.Helper()
		for to, from := range map[string]string{a.pemFile("records"): cert, a.keyFile("records"): key} {
			text, err := os.ReadFile(from)
			if err != nil {
				text = []byte(from)
			}
			if err := os.WriteFile(to, text, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	issued(t, a, Request{Name: "next", Hosts: []string{"127.0.0.1"}, For: ForProcess}, now)
	issued(t, a, Request{Name: "old", Hosts: []string{"127.0.0.1"}, For: ForProcess, Days: 1}, now.AddDate(0, 0, -3))
	issued(t, other, Request{Name: "foreign", Hosts: []string{"127.0.0.1"}, For: ForProcess}, now)
	for _, c := range []struct{ name, cert, key, says string }{
		{"the key not yet exchanged", a.pemFile("next"), a.keyFile("old"), "private key does not match"},
		{"half a file", "-----BEGIN CERTIFICATE-----\nMIIB", a.keyFile("next"), "failed to find"},
		{"nothing", "", "", "failed to find"},
		{"one that has ended", a.pemFile("old"), a.keyFile("old"), "it has ended"},
		{"one of another authority", other.pemFile("foreign"), other.keyFile("foreign"), "it is of another authority"},
	} {
		t.Run(c.name, func(t *testing.T) {
			log.Reset()
			write(c.cert, c.key)
			for range 3 {
				if k.Current() != good {
					t.Fatal("it is taken")
				}
			}
			if said := log.String(); strings.Count(said, "is not taken") != 1 || !strings.Contains(said, c.says) {
				t.Errorf("the log says\n%s\nwant once %q", said, c.says)
			}
		})
	}
	log.Reset()
	if err := os.Remove(a.pemFile("records")); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if k.Current() != good {
			t.Error("without a file it is gone")
		}
	}
	if strings.Count(log.String(), "is not taken") != 1 {
		t.Errorf("without a file, the log says\n%s", log.String())
	}
	write(a.pemFile("next"), a.keyFile("next"))
	if k.Current() == good {
		t.Error("a good one is not taken any more")
	}
}

func TestAClientShowsItsCertificateWhereItIsWanted(t *testing.T) {
	now := time.Now()
	a := made(t, now)
	k := kept(t, a, now)
	ask := k.Client(&tls.Config{}).GetClientCertificate
	ours, theirs := a.cert.RawSubject, func() []byte {
		b, err := Create(filepath.Join(t.TempDir(), "b"), "Another", now)
		if err != nil {
			t.Fatal(err)
		}
		return b.cert.RawSubject
	}()
	for _, c := range []struct {
		name   string
		wanted [][]byte
		shows  bool
	}{{"of our authority", [][]byte{ours}, true}, {"of any", nil, true}, {"of another", [][]byte{theirs}, false}} {
		got, err := ask(&tls.CertificateRequestInfo{AcceptableCAs: c.wanted, Version: tls.VersionTLS13, SignatureSchemes: []tls.SignatureScheme{tls.ECDSAWithP256AndSHA256}})
		if err != nil || (len(got.Certificate) > 0) != c.shows {
			t.Errorf("%s: shows %d, %v", c.name, len(got.Certificate), err)
		}
	}
}

// Each tick is an hour; the log is told at once, and again after a day.
func TestAnEndThatComesNearIsSaidOnceADay(t *testing.T) {
	now := time.Now()
	a := made(t, now)
	issued(t, a, Request{Name: "records", Hosts: []string{"127.0.0.1"}, For: ForProcess, Days: 29}, now)
	k, err := Load(a.Files("records"))
	if err != nil {
		t.Fatal(err)
	}
	var log bytes.Buffer
	tick, hours := make(chan time.Time), 0
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan bool)
	go func() {
		defer close(ended)
		k.Watch(ctx, tick, func() time.Time { hours++; return now.Add(time.Duration(hours-1) * time.Hour) }, slog.New(slog.NewTextHandler(&log, nil)))
	}()
	for range 48 {
		tick <- now
	}
	cancel()
	<-ended
	if said := log.String(); strings.Count(said, "renew it") != 3 || strings.Count(said, "level=WARN") != 3 { // hours 0, 24 and 48
		t.Errorf("in two days the log says\n%s", said)
	}
	if _, sentence, urgent := k.Left(now.Add(-3 * 24 * time.Hour)); urgent || strings.Contains(sentence, "renew") {
		t.Errorf("with 32 days left: %q, %v", sentence, urgent)
	}
}

func TestFilesThatAreNoneAreRefusedAtTheStart(t *testing.T) {
	now := time.Now()
	a, b := made(t, now), made(t, now)
	issued(t, a, Request{Name: "a", Hosts: []string{"127.0.0.1"}, For: ForProcess}, now)
	issued(t, b, Request{Name: "b", Hosts: []string{"127.0.0.1"}, For: ForProcess}, now)
	for _, c := range [][2]string{
		{a.pemFile("a"), b.keyFile("b")}, {a.keyFile("a"), a.pemFile("a")}, {a.pemFile("a"), ""}, {"nowhere", "nowhere"},
	} {
		if _, err := Load(c[0], c[1]); err == nil || !strings.Contains(err.Error(), "a certificate and its key, PEM") {
			t.Errorf("%v: %v", c, err)
		}
	}
}
