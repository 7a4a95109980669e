package main

import (
	"context"
	"crypto/tls"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

func TestAnAuthorityIsMadeAndSignsFromTheCommandLine(t *testing.T) {
	dir := t.TempDir()
	d := newDesk(t, filepath.Join(dir, "data"), dir, "DIR")
	at := " --dir " + filepath.Join(dir, "authority")
	d.types(
		"!certs issue records --host records.aldermoor.example"+at,
		"certs authority --name 'Aldermoor Works'"+at,
		"!certs authority"+at,
		"certs list"+at,
		"certs issue records --host records.aldermoor.example --host 10.0.0.5"+at,
		"certs issue care --for process --host care.aldermoor.example --days 20"+at,
		"certs issue proxy --for client"+at,
		"!certs issue records --host records.aldermoor.example"+at,
		"!certs issue 'Two words' --days 900 --host records:7460"+at,
		"!certs issue nowhere"+at,
		"certs renew care"+at,
		"!certs renew nobody"+at,
		"certs list"+at,
		"certs show care"+at,
		"certs show care --json"+at,
	)
	script := regexp.MustCompile(`\b[0-9a-f]{32}\b`).ReplaceAllString(d.script.String(), "SERIAL")
	script = regexp.MustCompile(`T1([12]):[0-9:.]+Z`).ReplaceAllString(script, "T1${1}:MM:SSZ")
	likeFile(t, filepath.Join("testdata", "certs.golden"), script)
}

// before is a day so far back that what was signed on it for a day has ended.
func before() []string {
	return []string{"--date", time.Now().AddDate(0, 0, -100).Format(time.DateOnly)}
}

// signed runs the program's own authority, and gives the flags of a process
// with a certificate of it.
func signed(t *testing.T, dir, name string, more ...string) []string {
	t.Helper()
	if _, err := os.Stat(filepath.Join(dir, "ca.pem")); err != nil {
		onTheDay(t, with([]string{"certs", "authority", "--dir", dir}, before())...)
	}
	onTheDay(t, with([]string{"certs", "issue", name, "--dir", dir}, more)...)
	return []string{"--tls-cert", filepath.Join(dir, "issued", name+".pem"), "--tls-key", filepath.Join(dir, "issued", name+".key")}
}

// onTheDay runs a command by the machine's clock, by which TLS goes too, unless
// it says another day.
func onTheDay(t *testing.T, args ...string) {
	t.Helper()
	p := launch(t, filepath.Join(t.TempDir(), "none"), args...)
	<-p.done
	if p.err != nil {
		t.Fatalf("halfshaft %v: %v\n%s", args, p.err, p.out.String())
	}
}

func TestASplitTrustsTheProgramsOwnAuthority(t *testing.T) {
	dir := t.TempDir()
	ours, theirs := filepath.Join(dir, "ours"), filepath.Join(dir, "theirs")
	here := []string{"--host", "127.0.0.1"}
	trusted := []string{"--peer-ca", filepath.Join(ours, "ca.pem")}
	date := []string{"--date", aldermoor.Today.String()}

	records := serve(t, filepath.Join(dir, "records"), with(date, signed(t, ours, "records", here...), trusted,
		[]string{"--services", "access,owner,build,parts"})...)
	at, keyFile := records.address(t), works.ServiceKeyFile(records.data)
	split := with([]string{"--services", "schedule,reminder", "--service-key", keyFile}, peersAt(at, "access", "owner", "build", "parts"))
	serve(t, filepath.Join(dir, "care"), with(date, signed(t, ours, "care", here...), trusted, split)...)

	serviceKey, err := works.ReadSecret(keyFile)
	if err != nil {
		t.Fatal(err)
	}
	roots, err := works.Trust("tls-ca", filepath.Join(ours, "ca.pem"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name  string
		flags []string // its certificate
		want  string   // in what its process says; none: it starts
	}{
		{"of our authority", signed(t, ours, "third", here...), ""},
		{"of another authority of the same name", signed(t, theirs, "foreign", here...), "certificate signed by unknown authority"},
		{"for a server only", signed(t, ours, "half", with(here, []string{"--for", "server"})...), "incompatible key usage"},
		{"for a client only", signed(t, ours, "caller", with(here, []string{"--for", "client"})...), "incompatible key usage"},
		{"that has ended", signed(t, ours, "ended", with(here, []string{"--days", "1"}, before())...), "certificate has expired"},
	} {
		t.Run("a process with a certificate "+c.name, func(t *testing.T) {
			p := launch(t, filepath.Join(t.TempDir(), "care"), with([]string{"serve", "--listen", "127.0.0.1:0", "--http", "", "--passes", "never"},
				c.flags, trusted, split)...)
			if c.want == "" {
				if !p.out.wait("halfshaft is ready", p.done) {
					t.Errorf("it says\n%s", p.out.String())
				}
				return
			}
			<-p.done
			if p.err == nil || !strings.Contains(p.out.String(), "tls-cert") || !strings.Contains(p.out.String(), c.want) {
				t.Errorf("it ended with %v and says\n%s\nwant %q", p.err, p.out.String(), c.want)
			}
		})
		t.Run("a caller that shows one "+c.name+", whatever it is told", func(t *testing.T) {
			pair, err := tls.LoadX509KeyPair(c.flags[1], c.flags[3])
			if err != nil {
				t.Fatal(err)
			}
			shows := roots.Clone()
			shows.GetClientCertificate = func(*tls.CertificateRequestInfo) (*tls.Certificate, error) { return &pair, nil }
			conn, err := works.Dial(at, shows)
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
			_, err = accessv1.NewAccessServiceClient(accessgate.Forward(conn, serviceKey)).WhoAmI(context.Background(), &accessv1.WhoAmIRequest{})
			// A certificate for a client alone is one: it calls and is not called.
			if good := c.want == "" || strings.HasSuffix(c.name, "client only"); (err == nil) != good {
				t.Errorf("got %v, want let in: %v", err, good)
			}
		})
	}
}

// The process is never restarted: its callers see the new certificate at their
// next connection, and it shows the new one to its peers.
func TestARunningProcessTakesItsNextCertificate(t *testing.T) {
	dir := t.TempDir()
	ours := filepath.Join(dir, "ours")
	flags := signed(t, ours, "records", "--host", "127.0.0.1", "--days", "20")
	p := serve(t, filepath.Join(dir, "data"), with(flags, []string{"--peer-ca", filepath.Join(ours, "ca.pem"), "--http", "127.0.0.1:0", "--metrics", "127.0.0.1:0",
		"--http-tls-cert", flags[1], "--http-tls-key", flags[3], "--log", "info"})...)
	if !p.out.wait("in 20 days: renew it", p.done) {
		t.Errorf("it does not say that its certificate is about to end:\n%s", p.out.String())
	}
	roots, err := works.Trust("tls-ca", filepath.Join(ours, "ca.pem"))
	if err != nil {
		t.Fatal(err)
	}
	shown := func(address string) string {
		t.Helper()
		conn, err := tls.Dial("tcp", address, roots)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		return conn.ConnectionState().PeerCertificates[0].SerialNumber.String()
	}
	if !p.out.wait("pages  https://", p.done) {
		t.Fatalf("no pages over TLS in:\n%s", p.out.String())
	}
	_, rest, _ := strings.Cut(p.out.String(), "pages  https://")
	pages, _, _ := strings.Cut(rest, "\n")
	first := shown(p.address(t))
	if shown(pages) != first {
		t.Error("the pages show another certificate")
	}
	onTheDay(t, "certs", "renew", "records", "--dir", ours)
	second := shown(p.address(t))
	if second == first || shown(pages) != second {
		t.Errorf("after the exchange gRPC shows %s and the pages %s, before %s", second, shown(pages), first)
	}
	if !p.out.wait("a new TLS certificate is in use", p.done) {
		t.Errorf("the log says nothing of it:\n%s", p.out.String())
	}
	p.stop(t)
}
