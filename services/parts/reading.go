package parts

import (
	"strings"
	"unicode"
)

// token is one word of a text as it is compared: in lower case, in the
// singular.
type token struct {
	text  string
	side  string // the direction that it is a word for; empty for none
	noise bool   // tells nothing: "the", the "hand" of "left hand"
	glued bool   // may be written together with the one before it: "lock tab", "lock-tab"
}

// read takes a text apart. A possessive ending is dropped, and every other
// mark parts two words.
func read(text string) []token {
	text = strings.ToLower(text)
	out := make([]token, 0, 8)
	start, apart := -1, true
	end := func(at int) {
		if start >= 0 {
			word := singular(text[start:at])
			out = append(out, token{text: word, side: directions[word], glued: !apart})
			start, apart = -1, false
		}
	}
	skip := 0
	for i, r := range text {
		switch {
		case i < skip:
		case unicode.IsLetter(r), unicode.IsDigit(r):
			if start < 0 {
				start = i
			}
		default:
			owned := start >= 0
			end(i)
			if n := possessive(text[i:]); owned && n > 0 {
				skip = i + n
			} else if strings.ContainsRune(",;:()[]{}!?", r) {
				apart = true
			}
		}
	}
	end(len(text))
	for i := range out {
		out[i].noise = isNoise(out, i)
	}
	for i := len(out) - 1; i >= 0; i-- {
		out[i].glued = i > 0 && out[i].glued && gluable(&out[i-1], &out[i])
	}
	return out
}

// possessive gives the length of an apostrophe with its s at the end of a
// word; 0 when the text does not begin with one.
func possessive(text string) int {
	for _, mark := range []string{"'s", "’s"} {
		if rest, ok := strings.CutPrefix(text, mark); ok {
			next := []rune(rest[:min(len(rest), 4)])
			if len(next) == 0 || !unicode.IsLetter(next[0]) && !unicode.IsDigit(next[0]) {
				return len(mark)
			}
		}
	}
	return 0
}

// gluable says whether two neighbours may be one word. Two figures would make
// another number, and a side or an end follows what it is of.
func gluable(a, b *token) bool {
	switch {
	case a.noise && len(a.text) > 1, b.noise && len(b.text) > 1, b.side != "":
		return false
	}
	return !(isDigit(a.text[len(a.text)-1]) && isDigit(b.text[0]))
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// stopWords carry nothing that tells one part from another.
var stopWords = map[string]bool{
	"a": true, "an": true, "the": true, "of": true, "for": true, "to": true, "on": true, "in": true, "at": true,
	"my": true, "our": true, "his": true, "her": true, "it": true, "is": true, "i": true, "we": true, "and": true,
	"with": true, "need": true, "which": true, "what": true, "part": true, "please": true,
	"new": true, "some": true, "one": true, "do": true,
	"offside": true, "nearside": true, "kerbside": true, // a side of the road, see directions
}

// beforeSide are the words after which "hand" and "side" name no thing, as
// they do in "hand brake" and "side gear".
var beforeSide = map[string]bool{
	"which": true, "each": true, "either": true, "other": true, "this": true, "that": true, "same": true, "driver": true, "passenger": true,
}

func isNoise(all []token, i int) bool {
	t := all[i].text
	if stopWords[t] {
		return true
	}
	switch t {
	case "hand", "side":
		return i > 0 && (all[i-1].side != "" || beforeSide[all[i-1].text] || t == "side" && all[i-1].text == "hand" && all[i-1].noise)
	case "number":
		return i+1 == len(all) || all[i+1].text != "plate"
	}
	return false
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
