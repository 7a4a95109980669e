package deploy_test

import (
	"bufio"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var (
	testNamed   = regexp.MustCompile("`((?:Test|Fuzz|Benchmark)[A-Za-z0-9_]+)`")
	fileNamed   = regexp.MustCompile("`((?:services|cmd|deploy|proto|testdata|\\.ci)/[A-Za-z0-9_./-]+)`")
	testDefined = regexp.MustCompile(`^func ((?:Test|Fuzz|Benchmark)[A-Za-z0-9_]+)\(`)
)

// TestSECURITYNamesWhatIsThere holds every test and file that the security
// documents name against the tree: a rule whose test is gone is shown by nothing.
func TestSECURITYNamesWhatIsThere(t *testing.T) {
	defined := definedTests(t)
	named := 0
	for _, document := range []string{"SECURITY.md"} {
		text, err := os.ReadFile(document)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range testNamed.FindAllStringSubmatch(string(text), -1) {
			named++
			if !defined[m[1]] {
				t.Errorf("%s names %s, which is nowhere", document, m[1])
			}
		}
		for _, m := range fileNamed.FindAllStringSubmatch(string(text), -1) {
			if _, err := os.Stat(filepath.Join("..", m[1])); err != nil {
				t.Errorf("%s names %s, which is not there", document, m[1])
			}
		}
		for i, line := range strings.Split(string(text), "\n") {
			if strings.HasPrefix(line, "| API") || strings.HasPrefix(line, "| V") {
				if !testNamed.MatchString(line) {
					t.Errorf("%s:%d: a rule without the test that shows it", document, i+1)
				}
			}
		}
	}
	if named < 30 {
		t.Errorf("the security documents name %d tests, want at least 30", named)
	}
}

// definedTests gives the names of all test functions of the tree.
func definedTests(t *testing.T) map[string]bool {
	t.Helper()
	all := map[string]bool{}
	for _, root := range []string{"../services", "../cmd", "../proto", "../deploy", "../testdata"} {
		err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
				return err
			}
			file, err := os.Open(path)
			if err != nil {
				return err
			}
			defer file.Close()
			for lines := bufio.NewScanner(file); lines.Scan(); {
				if m := testDefined.FindStringSubmatch(lines.Text()); m != nil {
					all[m[1]] = true
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return all
}
