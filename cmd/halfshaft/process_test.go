package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// These tests run the real program as its users do: built once, started as
// processes of their own, stopped and killed by signals.

// program is the path of the built program.
var program string

func TestMain(m *testing.M) { os.Exit(testMain(m)) }

func testMain(m *testing.M) int {
	dir, err := os.MkdirTemp("", "halfshaft-program")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	program = filepath.Join(dir, "halfshaft")
	build := exec.Command("go", "build", "-o", program, ".")
	if out, err := build.CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "go build: %v\n%s", err, out)
		return 1
	}
	return m.Run()
}

// patience bounds every wait for a process. It is no measurement: a machine
// may be busy.
const patience = 90 * time.Second

// process is one running halfshaft.
type process struct {
	cmd  *exec.Cmd
	data string
	out  lines
	done chan struct{} // closed when the process has ended
	err  error         // how it ended; read after done
}

// lines collects what a process prints and lets a test wait for a text.
type lines struct {
	mu   sync.Mutex
	all  bytes.Buffer
	more chan struct{}
}

func (l *lines) read(r io.Reader) {
	scan := bufio.NewScanner(r)
	scan.Buffer(nil, 1<<20)
	for scan.Scan() {
		l.mu.Lock()
		l.all.WriteString(scan.Text() + "\n")
		close(l.more)
		l.more = make(chan struct{})
		l.mu.Unlock()
	}
}

func (l *lines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.all.String()
}

// wait returns true when the text has been printed, false when the process
// ended or time ran out first.
func (l *lines) wait(text string, ended <-chan struct{}) bool {
	limit := time.NewTimer(patience)
	defer limit.Stop()
	for {
		l.mu.Lock()
		there, more := strings.Contains(l.all.String(), text), l.more
		l.mu.Unlock()
		if there {
			return true
		}
		select {
		case <-more:
		case <-ended:
			return strings.Contains(l.String(), text)
		case <-limit.C:
			return false
		}
	}
}

// launch starts the program without waiting for anything.
func launch(t testing.TB, data string, args ...string) *process {
	t.Helper()
	p := &process{data: data, done: make(chan struct{})}
	p.out.more = make(chan struct{})
	p.cmd = exec.Command(program, append(args, "--data", data)...)
	p.cmd.Env = append(os.Environ(), "HALFSHAFT_DATA=", "HALFSHAFT_SERVER=", "HALFSHAFT_KEY=", "HALFSHAFT_CA=")
	r, w := io.Pipe()
	p.cmd.Stdout, p.cmd.Stderr = w, w
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go p.out.read(r)
	go func() {
		p.err = p.cmd.Wait()
		w.Close()
		close(p.done)
	}()
	t.Cleanup(func() { p.kill() })
	return p
}

// serve starts the services and waits until they are ready.
func serve(t testing.TB, data string, args ...string) *process {
	t.Helper()
	p := launch(t, data, append([]string{"serve", "--listen", "127.0.0.1:0", "--http", "", "--passes", "never", "--no-snapshots"}, args...)...)
	if !p.out.wait("halfshaft is ready", p.done) {
		t.Fatalf("the process did not become ready:\n%s", p.out.String())
	}
	return p
}

// kill ends the process as a power cut would.
func (p *process) kill() {
	p.cmd.Process.Signal(syscall.SIGKILL) //nolint:errcheck // it may have ended
	<-p.done
}

// stop ends the process as the system does and waits for it.
func (p *process) stop(t testing.TB) {
	t.Helper()
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	select {
	case <-p.done:
	case <-time.After(patience):
		t.Fatal("the process did not stop on SIGTERM")
	}
	if p.err != nil {
		t.Fatalf("the process ended badly: %v\n%s", p.err, p.out.String())
	}
}

// address reads where gRPC answers from the greeting.
func (p *process) address(t testing.TB) string {
	t.Helper()
	if !p.out.wait("gRPC   ", p.done) {
		t.Fatalf("no address in:\n%s", p.out.String())
	}
	_, rest, _ := strings.Cut(p.out.String(), "gRPC   ")
	address, _, _ := strings.Cut(rest, " ")
	return address
}

// session opens the socket of the process's data directory.
func (p *process) session(t testing.TB) *works.Session {
	t.Helper()
	s, err := works.Open(context.Background(), works.Target{Servers: []string{"unix:" + works.SocketPath(p.data)}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// halfshaft runs one command to its end and gives what it printed.
func halfshaft(t testing.TB, data string, args ...string) (output string, ok bool) {
	t.Helper()
	return halfshaftFor(t, patience, data, args...)
}

// halfshaftFor is halfshaft for a command that takes longer.
func halfshaftFor(t testing.TB, limit time.Duration, data string, args ...string) (output string, ok bool) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), limit)
	defer cancel()
	out, err := command(ctx, data, args...).CombinedOutput()
	return string(out), err == nil
}

// printed is halfshaft without what goes to standard error, as a program reads
// it: there a command tells how far it has come, on a slow machine more often.
func printed(t testing.TB, data string, args ...string) (output string, ok bool) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	cmd := command(ctx, data, args...)
	var told bytes.Buffer
	cmd.Stderr = &told
	out, err := cmd.Output()
	if err != nil {
		t.Logf("%v: %v\n%s", args, err, told.String())
	}
	return string(out), err == nil
}

// command is one command of the program, on the demo's day.
func command(ctx context.Context, data string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, program, append(args, "--data", data, "--date", aldermoor.Today.String())...)
	cmd.Env = append(os.Environ(), "HALFSHAFT_DATA=", "HALFSHAFT_SERVER=", "HALFSHAFT_KEY=", "HALFSHAFT_CA=")
	return cmd
}

// demoData is a data directory with the demo works imported. It is imported
// once and copied for each test.
func demoData(t testing.TB) string {
	t.Helper()
	importDemo.Do(func() {
		dir, err := os.MkdirTemp(filepath.Dir(program), "demo")
		if err != nil {
			t.Fatal(err)
		}
		files := filepath.Join(dir, "files")
		if err := os.CopyFS(files, aldermoor.Files); err != nil {
			t.Fatal(err)
		}
		if out, ok := halfshaft(t, filepath.Join(dir, "data"), "import", files); !ok {
			t.Fatalf("the demo's files were refused:\n%s", out)
		}
		imported = filepath.Join(dir, "data")
	})
	if imported == "" {
		t.Fatal("the demo could not be imported; see the first test that tried")
	}
	if err := os.RemoveAll(filepath.Join(imported, "run")); err != nil { // sockets cannot be copied
		t.Fatal(err)
	}
	data := filepath.Join(t.TempDir(), "d")
	if err := os.CopyFS(data, os.DirFS(imported)); err != nil {
		t.Fatal(err)
	}
	// A copy has the modes of the umask; secrets are refused when others may
	// read them.
	secrets, err := filepath.Glob(filepath.Join(data, "secrets", "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range append(secrets, data, filepath.Join(data, "secrets")) {
		mode := os.FileMode(0o600)
		if info, err := os.Stat(path); err == nil && info.IsDir() {
			mode = 0o700
		}
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
	}
	return data
}

var (
	importDemo sync.Once
	imported   string
)
