package reminderwords

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// OneLine collapses white space and drops what has no business in a line of
// words: control characters and the marks that turn the direction of what
// follows them, beyond what they belong to.
func OneLine(text string) string {
	if isClean(text) {
		return text // as nearly all are
	}
	return cleaned(text)
}

func cleaned(text string) string {
	text = strings.ToValidUTF8(text, "")
	text = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r), unicode.IsControl(r):
			return ' '
		case unicode.Is(unicode.Cf, r) && r != '\u200d' && r != '\u200c', r == '\u2028', r == '\u2029':
			return -1
		}
		return r
	}, text)
	return strings.Join(strings.Fields(text), " ")
}

// isClean reports whether a text is one line of ASCII and Latin letters, with
// single spaces between its words: cleaning it leaves it as it is.
func isClean(text string) bool {
	space := true // a word begins
	for _, r := range text {
		ascii, latin := r >= ' ' && r <= '~', r >= 'À' && r <= 'ɏ'
		if !ascii && !latin || r == ' ' && space {
			return false
		}
		space = r == ' '
	}
	return text == "" || !space
}

// width is the length of a line of text, as RFC 5322 section 2.1.1 suggests
// (78) less room for being quoted in an answer.
const width = 72

// hang sets a row below its number.
func hang(row string) string {
	number, rest, ok := strings.Cut(row, " ")
	if !ok {
		return row
	}
	return fill("", number+" ", rest)
}

// fill sets words in lines: margin before every line, mark before the first,
// and as much space below the mark. A word longer than a line stands alone.
func fill(margin, mark, text string) string {
	var b strings.Builder
	b.WriteString(margin + mark)
	below := margin + strings.Repeat(" ", utf8.RuneCountInString(mark))
	at, first := utf8.RuneCountInString(below), true
	for _, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		switch {
		case first:
		case at+1+n > width:
			b.WriteString("\n" + below)
			at = utf8.RuneCountInString(below)
		default:
			b.WriteByte(' ')
			at++
		}
		b.WriteString(word)
		at, first = at+n, false
	}
	return b.String()
}
