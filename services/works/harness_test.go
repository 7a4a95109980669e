package works_test

import (
	"context"
	"io"
	"os"
	"path/filepath"
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
