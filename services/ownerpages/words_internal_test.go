package ownerpages

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"
)

func mustSub(of fs.FS, dir string) fs.FS {
	sub, err := fs.Sub(of, dir)
	if err != nil {
		panic(err)
	}
	return sub
}

// wordsOf reads a phrase file.
func wordsOf(t *testing.T, name string) map[string]any {
	t.Helper()
	text, err := fs.ReadFile(words, "words/"+name)
	if err != nil {
		t.Fatal(err)
	}
	var all map[string]any
	if err := yaml.Unmarshal(text, &all); err != nil {
		t.Fatal(err)
	}
	return all
}

var (
	asked    = regexp.MustCompile(`Say "([a-z.-]+)"`)
	aKey     = regexp.MustCompile(`^[a-z][a-z-]*(\.[a-z0-9-]+)+$`)
	messages = []string{
		"dead", "too-old", "nowhere", "method", "not-yours", "unavailable", "too-often", "form-unread", "answer.nothing", "transfer.too-late",
		"people.withdrawn", "handbook.none",
		"confirm.call", "confirm.too-often", "confirm.used", "confirm.over",
	}
)

// TestEveryPhraseIsAskedForAndEveryAskedForIsThere looks through the sources:
// a phrase that nobody says is dead weight for whoever translates.
func TestEveryPhraseIsAskedForAndEveryAskedForIsThere(t *testing.T) {
	said := map[string]bool{}
	for _, key := range messages {
		said[key+".title"], said[key+".text"] = true, true
	}
	// Keys that are put together: the beginning and all its ends.
	for beginning, ends := range map[string]string{
		"booked": "standing undo undone", "snooze": "standing undo undone", "done": "standing undo undone",
		"digit": "0 1 2 3 4 5 6 7 8 9",
		"stop":  "title intro button done-title done undo undone since again", "stop-year": "title intro button done-title done undo undone since again",
		"takeover": "consent-mail consent-text consent-year wrong-code wrong-name wrong-email wrong-phone wrong-postal wrong-zone wrong-country wrong-clock wrong-language wrong-unit wrong-consent",
	} {
		for end := range strings.FieldsSeq(ends) {
			said[beginning+"."+end] = true
		}
	}
	templatesSay(t, said)
	sourcesSay(t, said)
	english := wordsOf(t, "en.yaml")
	for key := range english {
		if !said[key] {
			t.Errorf("nobody says %s", key)
		}
	}
	for key := range said {
		if english[key] == nil {
			t.Errorf("there is no phrase %s", key)
		}
	}
}

func templatesSay(t *testing.T, said map[string]bool) {
	t.Helper()
	files, err := fs.Glob(templates, "templates/*.html")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		text, err := fs.ReadFile(templates, file)
		if err != nil {
			t.Fatal(err)
		}
		for _, found := range asked.FindAllStringSubmatch(string(text), -1) {
			said[found[1]] = true
		}
	}
}

// sourcesSay finds the string literals that are keys.
func sourcesSay(t *testing.T, said map[string]bool) {
	t.Helper()
	entries, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	english := wordsOf(t, "en.yaml")
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".go") || strings.HasSuffix(e.Name(), "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), e.Name(), nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			if call, ok := n.(*ast.CallExpr); ok {
				if name, ok := call.Fun.(*ast.SelectorExpr); ok && (name.Sel.Name == "say" || name.Sel.Name == "count") && len(call.Args) > 0 {
					if lit, ok := call.Args[0].(*ast.BasicLit); ok {
						key, _ := strconv.Unquote(lit.Value)
						said[key] = true
					}
				}
			}
			if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
				if key, err := strconv.Unquote(lit.Value); err == nil && aKey.MatchString(key) && english[key] != nil {
					said[key] = true
				}
			}
			return true
		})
	}
}

// A German file that says an English sentence was forgotten.
func TestNoSentenceIsTheSameInBothLanguages(t *testing.T) {
	english, german := wordsOf(t, "en.yaml"), wordsOf(t, "de.yaml")
	for key, text := range english {
		s, ok := text.(string)
		if ok && strings.Contains(s, " ") && !strings.Contains(s, "{{") && german[key] == text {
			t.Errorf("%s is not translated", key)
		}
	}
}

func TestBothLanguagesHaveTheSamePhrasesWithTheSamePlaces(t *testing.T) {
	english, german := wordsOf(t, "en.yaml"), wordsOf(t, "de.yaml")
	place := regexp.MustCompile(`\{\{\.[a-z-]+\}\}`)
	for key, text := range english {
		if german[key] == nil {
			t.Errorf("%s is not in German", key)
			continue
		}
		in := func(text any) string {
			found := map[string]bool{}
			for _, p := range place.FindAllString(fmt.Sprint(text), -1) {
				found[p] = true
			}
			return fmt.Sprint(found)
		}
		if got, want := in(german[key]), in(text); got != want {
			t.Errorf("%s: got the places %s, want %s", key, got, want)
		}
	}
	for key := range german {
		if english[key] == nil {
			t.Errorf("%s is in German only", key)
		}
	}
}
