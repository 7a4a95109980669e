package services_test

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// A comparison that ends at the first difference tells by its time how much of
// a secret was right. crypto/subtle and crypto/hmac do not. No test can see the
// difference by a clock, so this one reads the sources.

// secretive are the names of what must not be compared by == or !=, nor by
// functions that stop early.
var secretive = regexp.MustCompile(`(?i)(digest|secret|passw|signature|\bmac\b|sha256|\bsum\b|otp)`)

// early are functions that stop at the first difference.
var early = map[string]bool{"bytes.Equal": true, "bytes.Compare": true, "strings.Compare": true, "slices.Equal": true, "strings.EqualFold": true, "reflect.DeepEqual": true}

// notSecret are comparisons that the names make look like those of secrets.
var notSecret = map[string]string{
	"signin.SessionID(x.Digest) != except":                      "identifiers of sessions, which lists show",
	"c.way == accessv1.SignInWay_SIGN_IN_WAY_PASSWORD_AND_CODE": "an enumeration",
	"sha256.Sum256([]byte(s.Text)) != s.TextSHA256":             "the audit's hashes, which its reader has",
	"string(old) == string(secret)":                             "two files of the operator's own",
	"string(kept[min(sha256.Size, len(kept)):]) != t.ID":        "the identifier behind a digest",
	"d.Sure == sum": "the sum of what a form showed",
}

func TestSecretsAreComparedInConstantTime(t *testing.T) {
	files := 0
	for _, root := range []string{"access", "internal/links", "internal/throttle", "owner", "ownerpages", "desk", "reminder/remindertext"} {
		err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			files++
			found, err := comparedEarly(path, faulty(t, path))
			for _, f := range found {
				if _, ok := notSecret[f.what]; !ok {
					t.Errorf("%s: %s compares a secret and stops at the first difference: crypto/subtle does not", f.at, f.what)
				}
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if files < 30 {
		t.Errorf("read %d files: what is to be read has moved", files)
	}
}

func TestAnEarlyComparisonOfASecretIsFound(t *testing.T) {
	const source = `package p
	func f(a, b struct{ Digest [32]byte }, secret string, given []byte) bool {
		return a.Digest == b.Digest || secret != string(given) || bytes.Equal(given, secretBytes) ||
			secret == "" || err != nil && len(secret) == 4 || a == b || k.Digest == nil
	}`
	found, err := comparedEarly("p.go", source)
	if err != nil {
		t.Fatal(err)
	}
	if len(found) != 3 {
		t.Errorf("got %v, want the first three", found)
	}
}

// overlaid names the environment variable with the list of files that the
// compiler is shown in place of others, when faults are seeded: this test reads
// what the compiler reads.
const overlaid = "HALFSHAFT_OVERLAY"

// faulty gives the source that stands in a file's place, nil for the file's own.
func faulty(t *testing.T, path string) any {
	t.Helper()
	list := os.Getenv(overlaid)
	if list == "" {
		return nil
	}
	text, err := os.ReadFile(list)
	if err != nil {
		t.Fatal(err)
	}
	var overlay struct{ Replace map[string]string }
	if err := json.Unmarshal(text, &overlay); err != nil {
		t.Fatal(err)
	}
	path, err = filepath.Abs(path)
	if err != nil {
		t.Fatal(err)
	}
	instead, ok := overlay.Replace[path]
	if !ok {
		return nil
	}
	source, err := os.ReadFile(instead)
	if err != nil {
		t.Fatal(err)
	}
	return source
}

type comparison struct{ at, what string }

// comparedEarly finds where a file compares what sounds secret. What is
// compared with nothing, or only by its length, is not told by the time.
func comparedEarly(path string, source any) ([]comparison, error) {
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, path, source, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	var found []comparison
	ast.Inspect(file, func(n ast.Node) bool {
		var sides []ast.Expr
		switch x := n.(type) {
		case *ast.BinaryExpr:
			if x.Op == token.EQL || x.Op == token.NEQ {
				sides = []ast.Expr{x.X, x.Y}
			}
		case *ast.CallExpr:
			if early[types.ExprString(x.Fun)] && len(x.Args) == 2 {
				sides = x.Args
			}
		}
		secret := false
		for _, side := range sides {
			if plain(side) {
				return true
			}
			secret = secret || secretive.MatchString(types.ExprString(side))
		}
		if secret {
			found = append(found, comparison{set.Position(n.Pos()).String(), types.ExprString(n.(ast.Expr))})
		}
		return true
	})
	return found, nil
}

// plain says whether an expression is nothing, a number or a text that stands
// in the source, or a length.
func plain(e ast.Expr) bool {
	switch x := e.(type) {
	case *ast.BasicLit:
		return true
	case *ast.Ident:
		return x.Name == "nil" || x.Name == "err" || x.Name == "true" || x.Name == "false"
	case *ast.CompositeLit:
		return len(x.Elts) == 0
	case *ast.ParenExpr:
		return plain(x.X)
	case *ast.CallExpr:
		return types.ExprString(x.Fun) == "len"
	case *ast.BinaryExpr:
		return plain(x.X) || plain(x.Y)
	}
	return false
}
