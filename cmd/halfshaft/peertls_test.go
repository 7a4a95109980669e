package main

import (
	"context"
	"crypto/tls"
	"os"
	"path/filepath"
	"strings"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// TestTwoProcessesOverTLSAnswerAsOneProcessDoes splits the services over two
// processes, each with its own store, that know each other by certificates of
// one authority, and compares their answers with those of one process, whose
// services talk to each other without any TLS. Then it asks who else gets in.
func TestTwoProcessesOverTLSAnswerAsOneProcessDoes(t *testing.T) {
	dir := t.TempDir()
	ours, theirs := newAuthority(t, "works"), newAuthority(t, "others")
	date := []string{"--date", aldermoor.Today.String()}

	records := serve(t, filepath.Join(dir, "records"), with(date, ours.serving(t, "records", "127.0.0.1"), ours.trusted(),
		[]string{"--services", "access,owner,build,parts"})...)
	at := records.address(t)
	keyFile := works.ServiceKeyFile(records.data)
	care := serve(t, filepath.Join(dir, "care"), with(date, ours.serving(t, "care", "127.0.0.1"), ours.trusted(),
		[]string{"--services", "schedule,reminder,bulletin,warranty,enquiry", "--service-key", keyFile},
		peersAt(at, "access", "owner", "build", "parts"))...)

	_, rest, _ := strings.Cut(records.out.String(), "kept nowhere:\n  ")
	secret, _, _ := strings.Cut(rest, "\n")
	split := []string{"--api-key", secret, "--tls-ca", ours.file, "--server", at + ",schedule=" + care.address(t) + ",reminder=" + care.address(t) + ",bulletin=" + care.address(t) + ",warranty=" + care.address(t) + ",enquiry=" + care.address(t)}
	nowhere := filepath.Join(dir, "nothing here")
	files := filepath.Join(dir, "files")
	if err := os.CopyFS(files, aldermoor.Files); err != nil {
		t.Fatal(err)
	}
	if out, ok := halfshaft(t, nowhere, with([]string{"import", files}, split)...); !ok {
		t.Fatalf("the import into two processes was refused:\n%s", out)
	}
	one := demoData(t)
	for _, c := range questions {
		apart, ok := halfshaft(t, nowhere, with(c, split)...)
		together, okToo := halfshaft(t, one, c...)
		if apart != together || ok != okToo {
			t.Errorf("halfshaft %v: two processes over TLS say\n%s\none says\n%s", c, apart, together)
		}
	}

	serviceKey, err := works.ReadSecret(keyFile)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		args []string
		want string // in what is printed
		let  bool   // in
	}{
		{"a person needs no certificate", []string{"--api-key", secret, "--tls-ca", ours.file}, "administrator", true},
		{"plain text is refused, with the way out", []string{"--api-key", secret}, "hung up on plain text: if it has a TLS certificate, name its authority", false},
		{"who trusts another authority does not go on", []string{"--api-key", secret, "--tls-ca", theirs.file}, "certificate signed by unknown authority", false},
		{"the key of a service alone is not enough", []string{"--api-key", serviceKey, "--tls-ca", ours.file}, "a service needs a client certificate", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			out, ok := halfshaft(t, nowhere, with([]string{"whoami", "--server", at}, c.args)...)
			if ok != c.let || !strings.Contains(out, c.want) {
				t.Errorf("let in: %v, and\n%s\nwant %v, and %q", ok, out, c.let, c.want)
			}
		})
	}
	for _, c := range []struct {
		name  string
		shows *tls.Config
		want  string // in the refusal; none: let in
	}{
		{"a service with a certificate of the authority is let in", ours.client(ours.pair(t, "third")), ""},
		{"a service keeps one of another authority to itself, and is told", ours.client(theirs.pair(t, "third")), "a service needs a client certificate"},
		{"a service that shows one of another authority all the same gets no connection", ours.client(nil, theirs.pair(t, "third")), "code = Unavailable"},
		{"as does one whose authority has but the name of ours", ours.client(nil, newAuthority(t, "works").pair(t, "third")), "code = Unavailable"},
	} {
		t.Run(c.name, func(t *testing.T) {
			conn, err := works.Dial(at, c.shows)
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
			me, err := accessv1.NewAccessServiceClient(accessgate.Forward(conn, serviceKey)).WhoAmI(context.Background(), &accessv1.WhoAmIRequest{})
			switch {
			case c.want == "" && (err != nil || me.GetRole() != accessv1.Role_ROLE_SERVICE):
				t.Errorf("got %v, %v, want to be known as a service", me, err)
			case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)):
				t.Errorf("got %v, %v, want a refusal with %q", me, err, c.want)
			}
		})
	}
}

// A process says at once, and by name, why it and its peer cannot work
// together, instead of waiting for a peer that is there.
func TestAProcessDoesNotStartWithAPeerThatIsNotWhatItSays(t *testing.T) {
	dir := t.TempDir()
	ours, theirs := newAuthority(t, "works"), newAuthority(t, "others")
	records := func(name string, args []string) string {
		return serve(t, filepath.Join(dir, name), with(args, []string{"--services", "access,owner,build"})...).address(t)
	}
	good := records("good", with(ours.serving(t, "records", "127.0.0.1"), ours.trusted()))
	foreign := records("foreign", theirs.serving(t, "records", "127.0.0.1"))
	elsewhere := records("elsewhere", ours.serving(t, "records", "records.works.example", "192.0.2.1"))
	plain := records("plain", nil)
	key := filepath.Join(dir, "good", "secrets", "service.key")
	care := ours.serving(t, "care", "127.0.0.1")

	for _, c := range []struct {
		name string
		peer string
		args []string
		want []string // in what is printed
	}{
		{"of another authority", foreign, with(care, ours.trusted()), []string{"The peer at " + foreign + " is refused", "certificate signed by unknown authority"}},
		{"under another name", elsewhere, with(care, ours.trusted()), []string{"The peer at " + elsewhere + " is refused", "valid for 192.0.2.1, not 127.0.0.1"}},
		{"in plain text", plain, with(care, ours.trusted()), []string{"The peer at " + plain + " is refused", "does not look like a TLS handshake"}},
		{"that would refuse our certificate", good, with(theirs.serving(t, "care", "127.0.0.1"), ours.trusted()), []string{"tls-cert", "CN=care", "certificate signed by unknown authority"}},
		{"that would ask for a certificate", good, ours.trusted(), []string{"tls-cert", "they will ask for it"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := launch(t, filepath.Join(t.TempDir(), "care"), with([]string{
				"serve", "--listen", "127.0.0.1:0", "--http", "", "--passes", "never", "--log", "error",
				"--services", "parts", "--service-key", key,
			}, c.args, peersAt(c.peer, "access", "owner", "build"))...)
			<-p.done
			if p.err == nil {
				t.Errorf("the process ended well")
			}
			for _, want := range c.want {
				if !strings.Contains(p.out.String(), want) {
					t.Errorf("it says\n%s\nwithout %q", p.out.String(), want)
				}
			}
		})
	}
}

// with puts arguments together.
func with(parts ...[]string) []string {
	var all []string
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

// peersAt are the flags that say where services are.
func peersAt(address string, services ...string) []string {
	var all []string
	for _, s := range services {
		all = append(all, "--peer", s+"="+address)
	}
	return all
}
