package handbook

import (
	"strings"
	"unicode"
)

// curled sets a text with the quotation marks and apostrophes of print. Books are
// typed with straight ones.
func curled(text string) string {
	if !strings.ContainsAny(text, `'"`) {
		return text
	}
	var b strings.Builder
	before := ' '
	for _, r := range text {
		opens := unicode.IsSpace(before) || strings.ContainsRune("([–—“‘", before)
		switch {
		case r == '"' && opens:
			r = '“'
		case r == '"':
			r = '”'
		case r == '\'' && opens:
			r = '‘'
		case r == '\'':
			r = '’'
		}
		b.WriteRune(r)
		before = r
	}
	return b.String()
}

// curledAll are texts with the marks of print.
func curledAll(texts []string) []string {
	var out []string
	for _, t := range texts {
		out = append(out, curled(t))
	}
	return out
}
