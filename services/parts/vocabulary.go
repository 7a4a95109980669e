package parts

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// wordID numbers a word of the vocabulary.
type wordID uint32

// quality says how well a word was met; smaller is better.
type quality uint8

const (
	exact quality = iota
	prefix
	misspelt
	unmet
)

const (
	shortestPrefix   = 3  // letters before a beginning of a word counts
	shortestMisspelt = 4  // letters before one wrong letter is allowed
	longestMisspelt  = 32 // and after which none is
	letters          = "abcdefghijklmnopqrstuvwxyz"
)

// vocabulary is every word of the catalogue and the parts that have it. A word
// that no part has any more stays, with an empty set.
type vocabulary struct {
	ids    map[string]wordID
	texts  []string
	with   []set
	titled []uint32       // how many titles have the word
	order  sorted[wordID] // by text
	place  []uint32       // of a word in that order
}

func (v *vocabulary) id(word string) wordID {
	if id, ok := v.ids[word]; ok {
		return id
	}
	id := wordID(len(v.texts))
	word = strings.Clone(word) // not the whole title it was cut from
	v.ids[word] = id
	v.texts = append(v.texts, word)
	v.with, v.titled = append(v.with, set{}), append(v.titled, 0)
	v.order.add(id)
	return id
}

// known finds a word that some part has.
func (v *vocabulary) known(word string) (wordID, bool) {
	id, ok := v.ids[word]
	return id, ok && v.with[id].n > 0
}

// printed says whether some title has a word.
func (v *vocabulary) printed(word string) bool {
	id, ok := v.ids[word]
	return ok && v.titled[id] > 0
}

func (v *vocabulary) settle(parts int) {
	if len(v.order.added) > 0 {
		v.order.settle(func(a, b wordID) int { return strings.Compare(v.texts[a], v.texts[b]) })
		v.place = slices.Grow(v.place, len(v.texts)-len(v.place))[:len(v.texts)]
		for i, id := range v.order.all {
			v.place[id] = uint32(i)
		}
	}
	for i := range v.with {
		v.with[i].shape(parts)
	}
}

// beginnings gives the range of the words, in their order, that begin with a
// word and are longer. A number is not the beginning of a larger one: M1 is
// none of M10.
func (v *vocabulary) beginnings(word string) (from, to int) {
	if utf8.RuneCountInString(word) < shortestPrefix {
		return 0, 0
	}
	search := func(text string) int {
		at, _ := slices.BinarySearchFunc(v.order.all, text, func(id wordID, w string) int { return strings.Compare(v.texts[id], w) })
		return at
	}
	first := word + "\x00"
	if isDigit(word[len(word)-1]) {
		first = word + string('9'+1)
	}
	return search(first), search(word + "\xff")
}

// oneWrong gives the words one wrong letter away. What holds a digit or says
// how many is never taken for something else, nor is anything taken for it.
func (v *vocabulary) oneWrong(word string) []wordID {
	if n := utf8.RuneCountInString(word); n < shortestMisspelt || n > longestMisspelt || hasDigit(word) || counts[word] {
		return nil
	}
	var out []wordID
	edits(word, letters, func(edited []byte) {
		if id, ok := v.ids[string(edited)]; ok && v.with[id].n > 0 && !counts[v.texts[id]] && !slices.Contains(out, id) {
			out = append(out, id)
		}
	})
	return out
}
