package main

import (
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// TestFourProcessesOnOneEtcdAnswerAsOneProcessDoes runs the services as
// processes of their own over an external etcd, loads the same files, and
// compares what every question answers.
func TestFourProcessesOnOneEtcdAnswerAsOneProcessDoes(t *testing.T) {
	etcd := os.Getenv("HALFSHAFT_ETCD_BIN")
	if etcd == "" {
		t.Skip("HALFSHAFT_ETCD_BIN names no etcd; make test sets it")
	}
	endpoint := startEtcd(t, etcd)
	dir := t.TempDir()
	date := aldermoor.Today.String()
	share := func(name string, args ...string) *process {
		return launch(t, filepath.Join(dir, name), append([]string{
			"serve", "--listen", "127.0.0.1:0", "--http", "", "--passes", "never", "--etcd", endpoint, "--date", date,
		}, args...)...)
	}
	ready := func(p *process) string {
		if !p.out.wait("halfshaft is ready", p.done) {
			t.Fatalf("not ready:\n%s", p.out.String())
		}
		return p.address(t)
	}
	first := share("build", "--services", "build,access,owner")
	build := ready(first)
	key := works.ServiceKeyFile(filepath.Join(dir, "build"))
	peers := []string{"--service-key", key, "--peer", "build=" + build, "--peer", "access=" + build, "--peer", "owner=" + build}
	schedule := ready(share("schedule", append([]string{"--services", "schedule"}, peers...)...))
	parts := ready(share("parts", append([]string{"--services", "parts", "--peer", "schedule=" + schedule}, peers...)...))
	telephone := ready(share("telephone", append([]string{"--services", "warranty,bulletin,enquiry,handbook,jobsheet", "--peer", "parts=" + parts, "--peer", "schedule=" + schedule}, peers...)...))
	reminder := ready(share("reminder", append([]string{"--services", "reminder", "--peer", "parts=" + parts, "--peer", "schedule=" + schedule}, peers...)...))

	_, rest, _ := strings.Cut(first.out.String(), "kept nowhere:\n  ")
	secret, _, _ := strings.Cut(rest, "\n")
	split := []string{"--api-key", secret, "--server",
		"access=" + build + ",owner=" + build + ",build=" + build + ",parts=" + parts + ",schedule=" + schedule + ",reminder=" + reminder +
			",warranty=" + telephone + ",bulletin=" + telephone + ",enquiry=" + telephone + ",handbook=" + telephone + ",jobsheet=" + telephone}
	nowhere := filepath.Join(dir, "nothing here")

	files := filepath.Join(dir, "files")
	if err := os.CopyFS(files, aldermoor.Files); err != nil {
		t.Fatal(err)
	}
	if out, ok := halfshaft(t, nowhere, append([]string{"import", files}, split...)...); !ok {
		t.Fatalf("the import into five processes was refused:\n%s", out)
	}
	one := demoData(t)
	for _, c := range append(questions[:len(questions):len(questions)], []string{"where-used", "--serial", "R1052"}) { // which parts ask schedule about
		apart, ok := halfshaft(t, nowhere, append(c, split...)...)
		together, okToo := halfshaft(t, one, c...)
		if apart != together || ok != okToo {
			t.Errorf("halfshaft %v: five processes say\n%s\none says\n%s", c, apart, together)
		}
	}
}

// questions are asked of both arrangements. None shows an etag or a time of
// recording, which differ by nature.
var questions = func() [][]string {
	all := [][]string{{"due", "--within", "90d"}, {"pass", "--dry-run"}, {"readings"}}
	for _, stop := range aldermoor.Tour {
		all = append(all, stop.Command)
	}
	return all
}()

// startEtcd runs an etcd of one member on loopback.
func startEtcd(t *testing.T, binary string) (endpoint string) {
	t.Helper()
	client, peer := freePort(t), freePort(t)
	endpoint = "http://" + client
	cmd := exec.Command(binary, "--data-dir", filepath.Join(t.TempDir(), "etcd"), "--log-level", "error",
		"--listen-client-urls", endpoint, "--advertise-client-urls", endpoint,
		"--listen-peer-urls", "http://"+peer, "--initial-advertise-peer-urls", "http://"+peer,
		"--initial-cluster", "default=http://"+peer)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Kill() //nolint:errcheck // it may have ended
		cmd.Wait()         //nolint:errcheck // it was killed
	})
	return endpoint
}

// freePort gives a loopback address that nobody uses at the moment.
func freePort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}
