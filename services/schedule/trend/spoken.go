package trend

import (
	"slices"
	"strings"
	"unicode"
)

// Named is a quantity as people may name it.
type Named struct {
	Position       string // "output-shaft-bearing"; empty for the vehicle as a whole
	Characteristic string // "end-float"
	Item           string // of the programme, that measures it; empty for none
	Title          string // of that item
}

// Spoken finds the quantities that words mean, in whatever order they come: "end
// float output shaft". A position that is written out comes before all that
// begin with it, and what goes by all words in its position and characteristic
// before what takes the title of its item for it. Where nothing goes by all of
// them the nearest are given, with the words that they do not go by: then nobody
// may take them for what was meant without asking. It gives indexes, in order.
func Spoken(words string, all []Named) (found []int, unknown []string) {
	said := significant(words)
	if len(said) == 0 {
		return nil, nil
	}
	if found = byName(strings.Join(parted(words), "-"), all); len(found) > 0 {
		return found, nil
	}
	best := 0
	for i := range all {
		narrow, wide := stems(all[i].Position+" "+all[i].Characteristic), stems(all[i].Title+" "+all[i].Item)
		score := 0
		for _, word := range said {
			switch {
			case knows(narrow, word):
				score += 1 + len(said) // all in the title weigh less than one here
			case knows(wide, word):
				score++
			default:
				score -= 2 * (1 + len(said)) * len(said) // a word it does not go by outweighs all it does
			}
		}
		switch {
		case len(found) == 0 || score > best:
			found, best = []int{i}, score
		case score == best:
			found = append(found, i)
		}
	}
	return nearest(said, all, found)
}

// nearest looks which words what was found does not go by; what goes by none of
// them is nothing.
func nearest(said []string, all []Named, found []int) (some []int, unknown []string) {
	for _, i := range found {
		n := all[i]
		lacks := slices.DeleteFunc(slices.Clone(said), func(word string) bool {
			return knows(stems(n.Position+" "+n.Characteristic+" "+n.Title+" "+n.Item), word)
		})
		if len(lacks) == len(said) {
			continue
		}
		some = append(some, i)
		for _, word := range lacks {
			if !slices.Contains(unknown, word) {
				unknown = append(unknown, word)
			}
		}
	}
	return some, unknown
}

// byName finds what is called exactly so, or begins so: first the positions,
// then the characteristics.
func byName(name string, all []Named) (found []int) {
	begins := func(text string) bool { return strings.HasPrefix(text, name+"-") }
	for _, fits := range []func(Named) bool{
		func(n Named) bool { return n.Position == name },
		func(n Named) bool { return begins(n.Position) },
		func(n Named) bool { return n.Characteristic == name },
		func(n Named) bool { return begins(n.Characteristic) },
	} {
		for i := range all {
			if fits(all[i]) {
				found = append(found, i)
			}
		}
		if len(found) > 0 {
			return found
		}
	}
	return nil
}

// parted takes a text apart into its words, in small letters.
func parted(text string) []string {
	return strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '\'' })
}

// fillers are words between the others that say nothing of what was measured.
var fillers = []string{"a", "an", "and", "at", "for", "from", "had", "has", "in", "is", "it", "measured", "of", "on", "the", "to", "was", "with"}

// significant gives the words that say something; where none does, all.
func significant(text string) []string {
	all := parted(text)
	some := slices.DeleteFunc(slices.Clone(all), func(word string) bool { return slices.Contains(fillers, word) })
	if len(some) == 0 {
		return all
	}
	return some
}

// stems are the words of a name, each as one of it.
func stems(text string) []string {
	all := parted(text)
	for i := range all {
		all[i] = stem(all[i])
	}
	return all
}

// stem takes the end of a plural or a genitive off: "tyres" and "tyre's" are
// "tyre".
func stem(word string) string {
	word = strings.TrimSuffix(strings.TrimSuffix(word, "'s"), "'")
	if len(word) > 3 && strings.HasSuffix(word, "s") && !strings.HasSuffix(word, "ss") {
		return word[:len(word)-1]
	}
	return word
}

// knows says whether a word is among the stems, or a beginning of one that is
// long enough to be meant: "diff" of "differential".
func knows(all []string, word string) bool {
	word = stem(word)
	return slices.ContainsFunc(all, func(s string) bool { return s == word || len(word) >= 4 && strings.HasPrefix(s, word) })
}
