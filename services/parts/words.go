package parts

import (
	"slices"
	"strings"
	"unicode"
)

// stopWords carry nothing that tells one part from another.
var stopWords = map[string]bool{
	"a": true, "an": true, "the": true, "of": true, "for": true, "to": true, "on": true, "in": true, "at": true,
	"my": true, "our": true, "his": true, "her": true, "it": true, "is": true, "i": true, "we": true, "and": true,
	"with": true, "need": true, "which": true, "what": true, "part": true, "number": true, "please": true, "side": true,
	"hand": true, "new": true, "some": true, "one": true, "do": true,
}

// directions are the words that tell positions apart and their short forms.
// The sides of a road differ from country to country, so a word for one of
// them names no hand.
var directions = map[string]string{
	"left": "left", "lh": "left", "lhs": "left", "right": "right", "rh": "right", "rhs": "right",
	"front": "front", "fore": "front", "rear": "rear", "back": "rear",
}

// opposite of a direction.
var opposite = map[string]string{"left": "right", "right": "left", "front": "rear", "rear": "front"}

// tokens gives the words of a text as they are compared: lower case, without
// marks and endings of the plural.
func tokens(text string) []string {
	fields := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	for i, f := range fields {
		fields[i] = singular(f)
	}
	return fields
}

func singular(word string) string {
	if len(word) > 3 && strings.HasSuffix(word, "s") && !strings.HasSuffix(word, "ss") {
		return word[:len(word)-1]
	}
	return word
}

// asked is a question taken apart into words.
type asked struct {
	words      []string // without stop words and directions, each once
	directions []string // "left", "front", each once, in order of appearance
}

func understand(question string) asked {
	var a asked
	for _, t := range tokens(question) {
		switch d := directions[t]; {
		case d != "":
			if !slices.Contains(a.directions, d) {
				a.directions = append(a.directions, d)
			}
		case stopWords[t], slices.Contains(a.words, t):
		default:
			a.words = append(a.words, t)
		}
	}
	return a
}

// all is everything that was understood, for print.
func (a asked) all() string { return strings.Join(append(slices.Clone(a.words), a.directions...), " ") }

// samePhrase says whether the words, in any order, are exactly those of the
// phrase, directions aside.
func (a asked) samePhrase(phrase string) bool {
	other := understand(phrase)
	if len(a.words) == 0 || len(other.words) != len(a.words) {
		return false
	}
	for _, w := range a.words {
		if !slices.Contains(other.words, w) {
			return false
		}
	}
	return true
}

// names says whether a title or one of the other words of a part is exactly
// what was asked.
func (a asked) names(p *Part) bool {
	return a.samePhrase(p.Title) || slices.ContainsFunc(p.Words, a.samePhrase)
}

// against says whether what was asked contradicts a position or a hand: the
// left one was asked for and this is the right one.
func (a asked) against(position string, hand Hand) bool {
	for _, d := range a.directions {
		o := opposite[d]
		if hand.String() == o || (hasWord(position, o) && !hasWord(position, d)) {
			return true
		}
	}
	return false
}

// directed says whether every direction asked for is that of the position or
// the hand.
func (a asked) directed(position string, hand Hand) bool {
	for _, d := range a.directions {
		if hand.String() != d && !hasWord(position, d) {
			return false
		}
	}
	return true
}

// hasWord says whether a position, words joined by hyphens, has the word.
func hasWord(position, word string) bool {
	for w := range strings.SplitSeq(position, "-") {
		if w == word {
			return true
		}
	}
	return false
}

// spoken is a position as it is said: "swivel housing left".
func spoken(position string) string { return strings.ReplaceAll(position, "-", " ") }

func sortedUnique(list []string) []string {
	slices.Sort(list)
	return slices.Compact(list)
}

// eachEdit calls f with every text one edit away: a character swapped with its
// neighbour, left out, replaced or put in. It stops when f returns false.
func eachEdit(text, alphabet string, f func(edited string) bool) {
	buf := make([]byte, 0, len(text)+1)
	for i := range len(text) {
		if i+1 < len(text) && text[i] != text[i+1] {
			buf = append(append(append(buf[:0], text[:i]...), text[i+1], text[i]), text[i+2:]...)
			if !f(string(buf)) {
				return
			}
		}
		if buf = append(append(buf[:0], text[:i]...), text[i+1:]...); !f(string(buf)) {
			return
		}
		for j := range len(alphabet) {
			if alphabet[j] == text[i] {
				continue
			}
			if buf = append(append(append(buf[:0], text[:i]...), alphabet[j]), text[i+1:]...); !f(string(buf)) {
				return
			}
		}
	}
	for i := 0; i <= len(text); i++ {
		for j := range len(alphabet) {
			if buf = append(append(append(buf[:0], text[:i]...), alphabet[j]), text[i:]...); !f(string(buf)) {
				return
			}
		}
	}
}
