package figure_test

import (
	"fmt"
	"html"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"halfshaft/services/internal/figure"
)

// TestContactSheet writes all sample figures into one directory, to be looked
// at: the one that FIGURES names, or one that is removed again.
//
//	FIGURES=/tmp/figures go test -count=1 ./services/internal/figure -run TestContactSheet
//
// For each of light, dark and grey there is a page with all figures, to be
// opened at any width, and one with each figure in the width of a column on
// paper. ONLY=ledger leaves out all but those whose names begin so.
func TestContactSheet(t *testing.T) {
	dir := os.Getenv("FIGURES")
	if dir == "" {
		dir = t.TempDir()
	}
	for _, look := range looks {
		for _, language := range []string{"en", "de"} {
			name := filepath.Join(dir, look.name+"-"+language+".html")
			if err := os.WriteFile(name, []byte(contactSheet(look, language)), 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
}

var looks = []struct{ name, css string }{
	{"light", `:root { --ink: #1f2430; --quiet: #555c6b; --line: #cfd0d6; --sheet: #fff; --act: #24496e; }`},
	{"dark", `:root { --ink: #e8e9ee; --quiet: #a8aebb; --line: #3b414d; --sheet: #1c2028; --act: #9cc3e8; }`},
	{"grey", `:root { --ink: #000; --quiet: #333; --line: #aaa; --sheet: #fff; --act: #000; } body { filter: grayscale(1); }`},
}

func contactSheet(look struct{ name, css string }, language string) string {
	var b strings.Builder
	fmt.Fprintf(&b, `<!doctype html><html lang="%s"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'sha256-x' 'unsafe-inline'">
<title>Figures, %s</title><style>%s
* { box-sizing: border-box } html { font: 100%%/1.5 system-ui, sans-serif } body { margin: 0; padding: 16px; background: var(--sheet); color: var(--ink) }
table { border-collapse: collapse } @media print { body { background: #fff !important } } td, th { text-align: left; padding: .2rem .6rem; border-bottom: 1px solid var(--line) }
%s</style><body>`, language, look.name, look.css, figure.Stylesheet)
	for _, s := range samples() {
		if !strings.HasPrefix(s.name, os.Getenv("ONLY")) {
			continue
		}
		r := figure.Reader{Language: language, Unit: s.unit}
		fmt.Fprintf(&b, "<p><small>%s</small></p>", html.EscapeString(s.name))
		b.WriteString(string(figure.Block("f-"+s.name, r, func(l figure.Layout) figure.Figure { return s.draw(r, l) })))
	}
	return b.String()
}
