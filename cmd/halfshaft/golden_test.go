package main

import (
	"flag"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference before committing it")

// readLike compares what commands over the demo works print with a golden file.
func readLike(t *testing.T, data, path string, commands [][]string) {
	t.Helper()
	var got strings.Builder
	for _, args := range commands {
		out, ok := halfshaft(t, data, args...)
		if !ok {
			t.Errorf("halfshaft %s failed", strings.Join(args, " "))
		}
		got.WriteString("$ halfshaft " + strings.Join(args, " ") + "\n" + out + "\n")
	}
	likeFile(t, path, got.String())
}

// likeFile compares a text with a golden file.
func likeFile(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}
