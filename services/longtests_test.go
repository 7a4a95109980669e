package services_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var (
	longTag  = regexp.MustCompile(`(?m)^//go:build .*\blong\b`)
	testName = regexp.MustCompile(`(?m)^func (Test\w+)\(`)
)

// Whoever wants to run a long test finds it in DEVELOPERS.md; and "make long"
// runs by their names those that carry the tag.
func TestEveryLongTestIsNamedForDevelopers(t *testing.T) {
	page, err := os.ReadFile("../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	named := 0
	err = filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && strings.HasPrefix(d.Name(), ".") && d.Name() != "..":
			return filepath.SkipDir
		case !strings.HasSuffix(path, "_test.go"):
			return nil
		}
		text, err := os.ReadFile(path)
		if err != nil || !longTag.Match(text) {
			return err
		}
		for _, m := range testName.FindAllStringSubmatch(string(text), -1) {
			named++
			if !strings.Contains(m[1], "Long") {
				t.Errorf("%s: %s has no Long in its name, so that make long leaves it out", path, m[1])
			}
			if !strings.Contains(string(page), "`"+m[1]+"`") {
				t.Errorf("%s: %s is not named in DEVELOPERS.md", path, m[1])
			}
		}
		return nil
	})
	if err != nil || named < 10 {
		t.Errorf("%d long tests were found: %v", named, err)
	}
}
