package certificates

import (
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"halfshaft/services/fault"
)

var today = time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC)

func made(t *testing.T, now time.Time) *Authority {
	t.Helper()
	a, err := Create(filepath.Join(t.TempDir(), "authority"), "Aldermoor Works", now)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func issued(t *testing.T, a *Authority, r Request, now time.Time) (Issued, *x509.Certificate) {
	t.Helper()
	i, err := a.Issue(r, now)
	if err != nil {
		t.Fatal(err)
	}
	cert, err := readCertificate(a.pemFile(r.Name))
	if err != nil {
		t.Fatal(err)
	}
	return i, cert
}

func TestAnAuthorityIsClosedToOthersAndNeverReplaced(t *testing.T) {
	a := made(t, today)
	for path, want := range map[string]os.FileMode{a.dir: 0o700, filepath.Join(a.dir, caKeyFile): 0o600, CAFile(a.dir): 0o644} {
		info, err := os.Stat(path)
		if err != nil || info.Mode().Perm() != want {
			t.Errorf("%s: %v, %v, want %v", path, info.Mode().Perm(), err, want)
		}
	}
	before, err := os.ReadFile(filepath.Join(a.dir, caKeyFile))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Create(a.dir, "Another", today); !fault.Is(err, fault.AlreadyExists) {
		t.Errorf("a second time: %v", err)
	}
	if after, err := os.ReadFile(filepath.Join(a.dir, caKeyFile)); err != nil || string(after) != string(before) {
		t.Errorf("the key is another: %v", err)
	}
	open := filepath.Join(t.TempDir(), "open")
	if err := os.Mkdir(open, 0o755); err != nil {
		t.Fatal(err)
	}
	if _, err := Create(open, "Works", today); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("in a directory that others may enter: %v", err)
	}
	if err := os.Chmod(filepath.Join(a.dir, caKeyFile), 0o640); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(a.dir); !fault.Is(err, fault.FailedPrecondition) || !strings.Contains(err.Error(), "can be read by others") {
		t.Errorf("with a key that others may read: %v", err)
	}
	if _, err := Open(t.TempDir()); !fault.Is(err, fault.NotFound) {
		t.Errorf("where there is none: %v", err)
	}
}

// RFC 5280: 4.1.2.2 (serials), 4.2.1.3 (key usage), 4.2.1.9 (basic constraints).
func TestWhatAnAuthoritySignsIsForWhatItSays(t *testing.T) {
	a := made(t, today)
	ca := a.cert
	if !ca.IsCA || ca.MaxPathLen != 0 || !ca.MaxPathLenZero || ca.KeyUsage != x509.KeyUsageCertSign|x509.KeyUsageCRLSign ||
		!ca.NotAfter.Equal(today.AddDate(10, 0, 0)) || ca.NotBefore.After(today) {
		t.Errorf("the authority is %+v", ca)
	}
	roots := x509.NewCertPool()
	roots.AddCert(ca)
	server, client := x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth
	serials := map[string]bool{}
	for use, want := range map[Use][]x509.ExtKeyUsage{ForProcess: {server, client}, ForEtcd: {server, client}, ForServer: {server}, ForClient: {client}} {
		i, cert := issued(t, a, Request{Name: string(use), Hosts: []string{"records.aldermoor.example", "192.0.2.7", "2001:db8::7"}, For: use}, today)
		if cert.IsCA || cert.KeyUsage != x509.KeyUsageDigitalSignature || !slices.Equal(cert.ExtKeyUsage, want) {
			t.Errorf("%s: %v, %v, authority %v", use, cert.KeyUsage, cert.ExtKeyUsage, cert.IsCA)
		}
		if !cert.NotAfter.Equal(today.AddDate(0, 0, 397)) || cert.NotAfter.Sub(cert.NotBefore) > 398*24*time.Hour || !i.Ends.Equal(cert.NotAfter) {
			t.Errorf("%s: from %v to %v, noted %v", use, cert.NotBefore, cert.NotAfter, i.Ends)
		}
		if fmt.Sprintf("%032x", cert.SerialNumber) != i.Serial || cert.SerialNumber.BitLen() > 128 || cert.SerialNumber.BitLen() < 64 || serials[i.Serial] {
			t.Errorf("%s: serial %s, noted %s", use, cert.SerialNumber, i.Serial)
		}
		serials[i.Serial] = true
		for _, asked := range []x509.ExtKeyUsage{server, client} {
			for _, host := range []string{"records.aldermoor.example", "192.0.2.7", "2001:db8::7"} {
				_, err := cert.Verify(x509.VerifyOptions{Roots: roots, DNSName: host, CurrentTime: today, KeyUsages: []x509.ExtKeyUsage{asked}})
				if (err == nil) != slices.Contains(want, asked) {
					t.Errorf("%s at %s for %v: %v", use, host, asked, err)
				}
			}
		}
		for name, o := range map[string]x509.VerifyOptions{
			"under another name": {Roots: roots, DNSName: "care.aldermoor.example", CurrentTime: today},
			"after its end":      {Roots: roots, CurrentTime: today.AddDate(0, 0, 398)},
			"before":             {Roots: roots, CurrentTime: today.AddDate(0, 0, -1)},
			"by another": {Roots: func() *x509.CertPool {
				p := x509.NewCertPool()
				p.AddCert(made(t, today).cert)
				return p
			}(), CurrentTime: today},
		} {
			o.KeyUsages = []x509.ExtKeyUsage{x509.ExtKeyUsageAny}
			if _, err := cert.Verify(o); err == nil {
				t.Errorf("%s %s: it is good", use, name)
			}
		}
		info, err := os.Stat(a.keyFile(string(use)))
		if err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%s: its key has mode %v, %v", use, info.Mode(), err)
		}
		if _, err := tls.LoadX509KeyPair(a.Files(string(use))); err != nil {
			t.Errorf("%s: %v", use, err)
		}
	}
}

// A second implementation judges what was signed.
func TestOpenSSLThinksTheSame(t *testing.T) {
	openssl, err := exec.LookPath("openssl")
	if err != nil {
		t.Skip("openssl is missing (Debian's package openssl)")
	}
	now := time.Now() // openssl goes by the machine's clock
	a, other := made(t, now), made(t, now)
	for _, use := range Uses {
		issued(t, a, Request{Name: string(use), Hosts: []string{"records.aldermoor.example"}, For: use}, now)
	}
	issued(t, a, Request{Name: "ended", Hosts: []string{"records.aldermoor.example"}, For: ForServer, Days: 1}, now.AddDate(0, 0, -2))
	for _, c := range []struct {
		name    string
		by      *Authority
		cert    string
		purpose string
		good    bool
	}{
		{"a process serves", a, "process", "sslserver", true},
		{"a process calls", a, "process", "sslclient", true},
		{"a member of etcd serves", a, "etcd", "sslserver", true},
		{"a member of etcd calls", a, "etcd", "sslclient", true},
		{"a server serves", a, "server", "sslserver", true},
		{"a server does not call", a, "server", "sslclient", false},
		{"a client does not serve", a, "client", "sslserver", false},
		{"a client calls", a, "client", "sslclient", true},
		{"another authority of the same name", other, "process", "sslserver", false},
		{"one that has ended", a, "ended", "sslserver", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			out, err := exec.Command(openssl, "verify", "-x509_strict", "-CAfile", CAFile(c.by.dir), "-purpose", c.purpose,
				"-verify_hostname", "records.aldermoor.example", a.pemFile(c.cert)).CombinedOutput()
			if (err == nil) != c.good {
				t.Errorf("%v\n%s", err, out)
			}
		})
	}
}

func TestWhatCannotBeSignedIsRefusedAtOnce(t *testing.T) {
	a := made(t, today)
	good := Request{Name: "records", Hosts: []string{"records.aldermoor.example"}, For: ForProcess}
	for _, c := range []struct {
		name   string
		change func(*Request)
		field  string
	}{
		{"no name", func(r *Request) { r.Name = "" }, "name"},
		{"a path for a name", func(r *Request) { r.Name = "../ca" }, "name"},
		{"a name that hides", func(r *Request) { r.Name = ".records" }, "name"},
		{"no host", func(r *Request) { r.Hosts = nil }, "host"},
		{"a host with its port", func(r *Request) { r.Hosts = []string{"records:7460"} }, "host"},
		{"a star", func(r *Request) { r.Hosts = []string{"*.aldermoor.example"} }, "host"},
		{"an address that is none", func(r *Request) { r.Hosts = []string{"192.0.2.999"} }, "host"},
		{"every address", func(r *Request) { r.Hosts = []string{"0.0.0.0"} }, "host"},
		{"a host of two lines", func(r *Request) { r.Hosts = []string{"a\nb"} }, "host"},
		{"no use", func(r *Request) { r.For = "" }, "for"},
		{"too long", func(r *Request) { r.Days = 398 }, "days"},
		{"the past", func(r *Request) { r.Days = -1 }, "days"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := good
			c.change(&r)
			if _, err := a.Issue(r, today); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.field+": got") {
				t.Errorf("got %v, want a complaint about %s", err, c.field)
			}
		})
	}
	if all, err := List(a.dir); err != nil || len(all) != 0 {
		t.Errorf("on record are %v, %v", all, err)
	}
	if _, err := a.Issue(good, today.AddDate(10, 0, -20)); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("at the end of the authority: %v", err)
	}
	late := good
	late.Name = "late"
	if _, cert := issued(t, a, late, today.AddDate(10, 0, -40)); !cert.NotAfter.Equal(a.cert.NotAfter) {
		t.Errorf("it outlives its authority: %v", cert.NotAfter)
	}
}

func TestARenewedCertificateTakesThePlaceOfTheFormer(t *testing.T) {
	a := made(t, today)
	r := Request{Name: "records", Hosts: []string{"records.aldermoor.example", "10.0.0.5"}, For: ForProcess}
	first, before := issued(t, a, r, today)
	if _, err := a.Issue(r, today); !fault.Is(err, fault.AlreadyExists) {
		t.Errorf("the same name again: %v", err)
	}
	if _, err := a.Renew("nobody", 0, today); !fault.Is(err, fault.NotFound) {
		t.Errorf("the next of none: %v", err)
	}
	next, err := a.Renew("records", 100, today.AddDate(0, 0, 380))
	if err != nil {
		t.Fatal(err)
	}
	after, err := readCertificate(a.pemFile("records"))
	if err != nil {
		t.Fatal(err)
	}
	if next.Renews != first.Serial || next.Serial == first.Serial || !slices.Equal(next.Hosts, first.Hosts) || next.For != first.For {
		t.Errorf("the next is %+v", next)
	}
	if fmt.Sprintf("%032x", after.SerialNumber) != next.Serial || string(after.RawSubjectPublicKeyInfo) == string(before.RawSubjectPublicKeyInfo) {
		t.Error("the file has not the next, or the key is the same")
	}
	if _, err := tls.LoadX509KeyPair(a.Files("records")); err != nil {
		t.Error(err)
	}
	all, err := List(a.dir)
	if err != nil || len(all) != 2 {
		t.Fatalf("on record are %v, %v", all, err)
	}
	got := Sentences(all, today.AddDate(0, 0, 380))
	want := []string{
		"records is for a process of the works, to be called and to call, reached at records.aldermoor.example and 10.0.0.5. It ends on 28 December 2027, in 17 days; another has taken its place.",
		"records is for a process of the works, to be called and to call, reached at records.aldermoor.example and 10.0.0.5. It ends on 20 March 2028, in 100 days.",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestEndingsAreSaidByTheDay(t *testing.T) {
	end := time.Date(2027, 3, 10, 12, 0, 0, 0, time.UTC)
	for now, want := range map[time.Time]string{
		end.AddDate(0, 0, -31):       "ends on 10 March 2027, in 31 days",
		end.AddDate(0, 0, -30):       "ends on 10 March 2027, in 30 days",
		end.Add(-Watched + 1):        "ends on 10 March 2027, in 30 days: renew it",
		end.AddDate(0, 0, -2):        "ends on 10 March 2027, in 2 days: renew it",
		end.Add(-25 * time.Hour):     "ends on 10 March 2027, by tomorrow: renew it",
		end.Add(-time.Minute):        "ends on 10 March 2027, by tomorrow: renew it",
		end:                          "ended on 10 March 2027",
		end.AddDate(1, 0, 0).Local(): "ended on 10 March 2027",
	} {
		if got := ending(end, now); got != want {
			t.Errorf("at %v: got %q, want %q", now, got, want)
		}
	}
}

// A write that was cut short leaves half a line; what follows is read.
func TestHalfALineOfTheRecordIsPassedOver(t *testing.T) {
	a := made(t, today)
	issued(t, a, Request{Name: "one", Hosts: []string{"one.example"}, For: ForServer}, today)
	f, err := os.OpenFile(filepath.Join(a.dir, recordFile), os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteString(`{"name":"two","for"`); err != nil {
		t.Fatal(err)
	}
	f.Close()
	issued(t, a, Request{Name: "three", Hosts: []string{"three.example"}, For: ForServer}, today)
	all, err := List(a.dir)
	if err != nil || len(all) != 2 || all[1].Name != "three" {
		t.Errorf("on record are %v, %v", all, err)
	}
}

func FuzzPEM(f *testing.F) {
	a, err := Create(filepath.Join(f.TempDir(), "authority"), "Aldermoor Works", today)
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range []string{caFile, caKeyFile} {
		text, err := os.ReadFile(filepath.Join(a.dir, file))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		if cert, err := parseCertificate(text); (cert == nil) == (err == nil) {
			t.Errorf("%v, %v", cert, err)
		}
		if key, err := parseKey(text); (key == nil) == (err == nil) {
			t.Errorf("%v, %v", key, err)
		}
		if pair, err := pairOf([2][]byte{text, text}); err == nil && pair.Leaf == nil {
			t.Error("a pair without its certificate")
		}
	})
}

func FuzzRecord(f *testing.F) {
	f.Add([]byte(`{"name":"records","for":"process","hosts":["a.example"],"serial":"0a","ends":"2027-03-10T12:00:00Z"}` + "\n"))
	f.Add([]byte("{\"name\":\"records\"}\n\n{"))
	f.Fuzz(func(t *testing.T, text []byte) {
		all := parseRecord(text)
		if lines := Sentences(all, today); len(lines) != len(all) {
			t.Errorf("%d sentences of %d", len(lines), len(all))
		}
		for _, i := range all {
			if strings.ContainsAny(i.Name, "/.\n") {
				t.Errorf("the name %q would be a path", i.Name)
			}
		}
	})
}

func FuzzHost(f *testing.F) {
	for _, h := range []string{"records.aldermoor.example", "192.0.2.7", "2001:db8::7", "::ffff:192.0.2.7", "fe80::1%eth0", "a..b", "-a", "1.2.3"} {
		f.Add(h)
	}
	f.Fuzz(func(t *testing.T, host string) {
		if isHost(host) && (strings.ContainsAny(host, "* \n/%@") || len(host) > 253) {
			t.Errorf("%q is taken for a host", host)
		}
	})
}
