package exchange

import "strings"

// splitWords takes a cell of identifiers apart at semicolons, commas and new
// lines.
func splitWords(text string) []string {
	return trimmed(strings.FieldsFunc(text, func(r rune) bool { return r == ';' || r == ',' || r == '\n' }))
}

// splitLines takes a cell of texts apart at semicolons and new lines. A
// backslash before a semicolon or backslash makes it part of the text.
func splitLines(text string) []string {
	var out []string
	var b strings.Builder
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case c == '\\' && i+1 < len(text) && (text[i+1] == ';' || text[i+1] == '\\'):
			i++
			b.WriteByte(text[i])
		case c == ';' || c == '\n':
			out = append(out, b.String())
			b.Reset()
		default:
			b.WriteByte(c)
		}
	}
	return trimmed(append(out, b.String()))
}

// joinLines is the inverse of splitLines.
func joinLines(lines []string) string {
	var out []string
	for _, line := range lines {
		for part := range strings.SplitSeq(plain(line), "\n") {
			out = append(out, strings.NewReplacer(`\`, `\\`, `;`, `\;`).Replace(part))
		}
	}
	return strings.Join(trimmed(out), "; ")
}

// trimmed takes blanks off the ends of each text and leaves out empty ones.
func trimmed(list []string) []string {
	var out []string
	for _, s := range list {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}
