package parts

import (
	"cmp"
	"slices"
	"strings"
)

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

// numberKeys gives the keys of the numbers of a part, its own and those by
// which it was known elsewhere; each once.
func numberKeys(p *Part) []uint64 {
	keys := []uint64{hash(NormalNumber(p.Number))}
	for _, other := range p.OtherNumbers {
		if normal := NormalNumber(other); normal != "" {
			keys = append(keys, hash(normal))
		}
	}
	return eachKeyOnce(keys)
}

// knownAs gives a number by which a part was known elsewhere, and which is
// looked up as that; empty for none.
func knownAs(p *Part, normal string) string {
	for _, other := range p.OtherNumbers {
		if NormalNumber(other) == normal {
			return other
		}
	}
	return ""
}

// numbered is a part found by a number.
type numbered struct {
	entry *entry
	as    string // the number, as printed
	other bool   // it was known by it elsewhere
}

// lookUp finds the parts of a number as NormalNumber gives it, whether it is
// their own or they were known by it elsewhere.
func (c *Catalogue) lookUp(normal string) []numbered {
	var out []numbered
	for _, k := range c.words.numbers.of(normal) {
		e := c.words.docs[k.doc]
		if NormalNumber(e.Number) == normal {
			out = append(out, numbered{entry: e, as: e.Number})
		} else if as := knownAs(&e.Part, normal); as != "" {
			out = append(out, numbered{entry: e, as: as, other: true})
		}
	}
	return out
}

// ofNumber finds a part by its own number as NormalNumber gives it, of several
// the last; nil when there is none. Check refuses several.
func (c *Catalogue) ofNumber(normal string) *Part {
	var found *Part
	for _, n := range c.lookUp(normal) {
		if !n.other && (found == nil || n.entry.Number > found.Number) {
			found = &n.entry.Part
		}
	}
	return found
}

// numbersIn finds the parts whose number, or a number by which they were known
// elsewhere, is the whole question or a run of its words, the longest run
// first, and gives the words beside it. A run must hold a digit, so that a
// word is not taken for a number; a question that is a number as a whole need
// not.
func (c *Catalogue) numbersIn(question string) (found []numbered, rest string) {
	if whole := NormalNumber(question); len(whole) <= maxNumber {
		if found = c.lookUp(whole); len(found) > 0 {
			return found, ""
		}
	}
	words := strings.Fields(question)
	for n := min(maxRun, len(words)-1); n >= 1; n-- {
		for i := 0; i+n <= len(words); i++ {
			run := NormalNumber(strings.Join(words[i:i+n], ""))
			if len(run) > maxNumber || !hasDigit(run) {
				continue
			}
			if found = c.lookUp(run); len(found) > 0 {
				return found, strings.Join(append(append([]string(nil), words[:i]...), words[i+n:]...), " ")
			}
		}
	}
	return nil, question
}

// partsIn finds the parts that a number in the question is of: the one whose own
// it is first, then those that were known by it elsewhere, by their numbers.
func (c *Catalogue) partsIn(question string) (parts []*Part, as, rest string) {
	found, rest := c.numbersIn(question)
	slices.SortFunc(found, func(a, b numbered) int {
		return cmp.Or(compareBool(a.other, b.other), strings.Compare(a.entry.Number, b.entry.Number))
	})
	for _, n := range found {
		parts, as = append(parts, &n.entry.Part), cmp.Or(as, n.as)
	}
	return parts, as, rest
}

// looksLikeNumber says whether someone who wrote this meant a part number.
func looksLikeNumber(question string) bool {
	words := strings.Fields(question)
	normal := NormalNumber(question)
	return len(words) <= 2 && len(normal) >= 4 && hasDigit(normal)
}

// near gives the parts with a number one character away: one other, one
// missing, one too many, or two neighbours swapped; in order of their own
// numbers.
func (c *Catalogue) near(question string) []*entry {
	normal := NormalNumber(question)
	if len(normal) > maxNumber+1 {
		return nil
	}
	var near []*entry
	edits(normal, digits+"ABCDEFGHIJKLMNOPQRSTUVWXYZ", func(edited []byte) {
		for _, n := range c.lookUp(string(edited)) {
			near = append(near, n.entry)
		}
	})
	slices.SortFunc(near, func(a, b *entry) int { return strings.Compare(a.Number, b.Number) })
	return slices.Compact(near)
}

// nearNumbers gives the numbers of those, to be read out and never to be
// answered with.
func (c *Catalogue) nearNumbers(question string) []string {
	const most = 5
	var near []string
	for _, e := range c.near(question) {
		near = append(near, e.Number)
	}
	return near[:min(most, len(near))]
}
