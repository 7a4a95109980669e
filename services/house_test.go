package services_test

import (
	"bytes"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// root is all that may stand at the top of the tree, beside hidden files: a
// newcomer reads it in one glance.
var root = []string{
	"DEVELOPERS.md", "LICENSE", "Makefile", "README.md",
	"buf.yaml", "go.mod", "go.sum",
	"cmd", "deploy", "proto", "services", "testdata",
}

func TestTheTopOfTheTreeHoldsOnlyWhatBelongsThere(t *testing.T) {
	for _, name := range strangers(topLevel(t)) {
		t.Errorf("%s stands at the root of the tree: it belongs under one of %v", name, root)
	}
}

func TestAStrangerAtTheTopOfTheTreeIsSeen(t *testing.T) {
	got := strangers([]string{".ci", "README.md", "notes.txt", "services", "vendor"})
	if want := []string{"notes.txt", "vendor"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// strangers gives the names that may not stand at the root.
func strangers(names []string) []string {
	return slices.DeleteFunc(names, func(name string) bool {
		return strings.HasPrefix(name, ".") || slices.Contains(root, name)
	})
}

// topLevel lists the root of the tree: what is committed, and what would be by
// a careless "git add". What git ignores is nobody's concern.
func topLevel(t *testing.T) []string {
	t.Helper()
	git := exec.Command("git", "ls-files", "-z", "--cached", "--others", "--exclude-standard")
	git.Dir = ".."
	out, err := git.Output()
	if err != nil {
		t.Skipf("not a git checkout, so nothing to list: %v", err)
	}
	var names []string
	for path := range bytes.SplitSeq(bytes.Trim(out, "\x00"), []byte{0}) {
		name, _, _ := strings.Cut(string(path), "/")
		names = append(names, name)
	}
	slices.Sort(names)
	return slices.Compact(names)
}
