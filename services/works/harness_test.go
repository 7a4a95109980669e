package works_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"halfshaft/services/internal/handclock"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// atDemo is noon UTC of the demo's day.
func atDemo() *handclock.Clock {
	return handclock.At(aldermoor.Today.Start(time.UTC).Add(12 * time.Hour))
}

// start runs all services in this process over an empty directory, or the one
// that the configuration names.
func start(t *testing.T, c works.Config) (*works.Process, context.Context, works.Clients) {
	t.Helper()
	if c.Data == "" {
		c.Data = t.TempDir()
	}
	if c.Passes == "" {
		c.Passes = works.Never
	}
	if c.Clock == nil {
		c.Clock = atDemo().Now
	}
	p, err := works.Start(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := p.Close(); err != nil {
			t.Error(err)
		}
	})
	return p, works.Operator(context.Background()), p.Clients()
}

// startDemo is start with the records of the demo works. They are imported once,
// at noon of the demo's day, and copied for each test: an import takes ten times
// as long. What a test wants of the import itself it does with importFiles.
func startDemo(t *testing.T, c works.Config) (*works.Process, context.Context, works.Clients) {
	t.Helper()
	if c.Data == "" {
		c.Data = t.TempDir()
	}
	layDemo(t, c.Data)
	return start(t, c)
}

// layDemo makes an empty directory the data directory of a works that holds the
// demo's records and has done nothing else yet.
func layDemo(t *testing.T, data string) {
	t.Helper()
	made, err := importedDemo()
	if err != nil {
		t.Fatal(err)
	}
	if err := copyPrivately(data, made.data); err != nil {
		t.Fatal(err)
	}
}

// demoSecret is the administrator's key in every copy: only the first start of a
// data directory shows it.
func demoSecret(t *testing.T) string {
	t.Helper()
	made, err := importedDemo()
	if err != nil {
		t.Fatal(err)
	}
	return made.secret
}

type demo struct{ data, secret string }

var importedDemo = sync.OnceValues(func() (demo, error) {
	dir, err := os.MkdirTemp(scratch, "demo")
	if err != nil {
		return demo{}, err
	}
	files := filepath.Join(dir, "files")
	if err := os.CopyFS(files, aldermoor.Files); err != nil {
		return demo{}, err
	}
	made := demo{data: filepath.Join(dir, "data")}
	p, err := works.Start(context.Background(), works.Config{Data: made.data, Passes: works.Never, Clock: atDemo().Now})
	if err != nil {
		return demo{}, err
	}
	made.secret = p.FirstSecret()
	faultless, err := works.Import(works.Operator(context.Background()), p.Clients(), aldermoor.Today, []string{files}, false, io.Discard, io.Discard)
	if err == nil && !faultless {
		err = errors.New("the demo's files were refused")
	}
	if err := errors.Join(err, p.Close()); err != nil {
		return demo{}, err
	}
	return made, os.RemoveAll(filepath.Join(made.data, "run")) // sockets cannot be copied
})

// copyPrivately copies a data directory. Secrets are refused when others may read
// them, and a copy has the modes of the umask.
func copyPrivately(to, from string) error {
	if err := os.CopyFS(to, os.DirFS(from)); err != nil {
		return err
	}
	return filepath.WalkDir(to, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			return os.Chmod(path, 0o700)
		}
		return os.Chmod(path, 0o600)
	})
}

// scratch is where the tests of this package keep what they share.
var scratch string

func TestMain(m *testing.M) { os.Exit(testMain(m)) }

func testMain(m *testing.M) int {
	dir, err := os.MkdirTemp("", "works")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	scratch = dir
	return m.Run()
}

// demoFiles lays the demo works' files out.
func demoFiles(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "files")
	if err := os.CopyFS(dir, aldermoor.Files); err != nil {
		t.Fatal(err)
	}
	return dir
}

// importFiles imports and wants no fault.
func importFiles(t *testing.T, ctx context.Context, c works.Clients, paths ...string) {
	t.Helper()
	faultless, err := works.Import(ctx, c, aldermoor.Today, paths, false, io.Discard, io.Discard)
	if err != nil || !faultless {
		t.Fatalf("the import of %v: faultless %v, %v", paths, faultless, err)
	}
}
