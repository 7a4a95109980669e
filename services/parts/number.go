package parts

import "strings"

// NormalNumber gives a part number as it is looked up: letters and digits
// only, in upper case. People leave separators out, put others in, and never
// care for case.
func NormalNumber(text string) string {
	var b strings.Builder
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case c >= 'a' && c <= 'z':
			b.WriteByte(c - 'a' + 'A')
		case c >= 'A' && c <= 'Z', c >= '0' && c <= '9':
			b.WriteByte(c)
		}
	}
	return b.String()
}

const (
	maxNumber = 40 // characters of a part number
	maxRun    = 4  // words of a question that may make one number: "AP 20 41 B"
)

// wellFormedNumber says whether text can be a part number of the works:
// letters and digits, with hyphens, dots and underscores between.
func wellFormedNumber(text string) bool {
	if text == "" || len(text) > maxNumber || NormalNumber(text) == "" {
		return false
	}
	for _, r := range text {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '.', r == '_':
		default:
			return false
		}
	}
	return true
}

// numberIn finds the part whose number is the whole question or a run of its
// words, the longest run first, and gives the words beside it. A run must hold
// a digit, so that a word is not taken for a number; a question that is a
// number as a whole need not.
func (c *Catalogue) numberIn(question string) (part *Part, rest string) {
	if p := c.byNormal[NormalNumber(question)]; p != nil {
		return p, ""
	}
	words := strings.Fields(question)
	for n := min(maxRun, len(words)-1); n >= 1; n-- {
		for i := 0; i+n <= len(words); i++ {
			run := NormalNumber(strings.Join(words[i:i+n], ""))
			if !strings.ContainsAny(run, "0123456789") {
				continue
			}
			if p := c.byNormal[run]; p != nil {
				return p, strings.Join(append(append([]string(nil), words[:i]...), words[i+n:]...), " ")
			}
		}
	}
	return nil, question
}

// looksLikeNumber says whether someone who wrote this meant a part number.
func looksLikeNumber(question string) bool {
	words := strings.Fields(question)
	normal := NormalNumber(question)
	return len(words) <= 2 && len(normal) >= 4 && strings.ContainsAny(normal, "0123456789")
}

// nearNumbers gives the parts whose number is one character away: one other,
// one missing, one too many, or two neighbours swapped. They are to be read
// out, never to be answered with.
func (c *Catalogue) nearNumbers(question string) []string {
	const most = 5
	var near []string
	eachEdit(NormalNumber(question), "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", func(edited string) bool {
		if p := c.byNormal[edited]; p != nil {
			near = append(near, p.Number)
		}
		return true
	})
	near = sortedUnique(near)
	return near[:min(most, len(near))]
}
