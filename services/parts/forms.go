package parts

import "strings"

// irregular plurals, and words that end like a plural and are none. Only the
// number is taken off a word, never another ending: a washer is not what
// washes.
var irregular = map[string]string{
	"leaves": "leaf", "halves": "half", "shelves": "shelf", "knives": "knife", "teeth": "tooth", "feet": "foot",
	"lenses": "lens", "gases": "gas", "buses": "bus", "canvases": "canvas", "caches": "cache", "niches": "niche",
	"bogies": "bogie", "series": "series", "species": "species",
	"lens": "lens", "bias": "bias", "canvas": "canvas", "atlas": "atlas", "axes": "axes",
}

// singular gives the form in which a word is kept and looked up. Words of up
// to three letters and words with digits are kept as they are.
func singular(word string) string {
	switch {
	case word == "teeth", word == "feet":
		return irregular[word]
	case len(word) <= 3, word[len(word)-1] != 's', hasDigit(word):
		return word
	}
	if one, ok := irregular[word]; ok {
		return one
	}
	cut := func(n int) string { return word[:len(word)-n] }
	for _, ending := range []string{"ss", "us", "is"} {
		if strings.HasSuffix(word, ending) {
			return word
		}
	}
	if len(word) > 4 && strings.HasSuffix(word, "ies") {
		return cut(3) + "y"
	}
	for _, ending := range []string{"sses", "xes", "ches", "shes"} {
		if strings.HasSuffix(word, ending) {
			return cut(2)
		}
	}
	return cut(1)
}

func hasDigit(text string) bool { return strings.ContainsAny(text, digits) }

const digits = "0123456789"

// counts are words for numbers: one wrong letter would make another number of
// them, or a thing of a number.
var counts = map[string]bool{
	"half": true, "third": true, "quarter": true, "double": true, "triple": true, "single": true,
	"one": true, "two": true, "three": true, "four": true, "five": true, "six": true, "seven": true, "eight": true,
	"nine": true, "ten": true, "eleven": true, "twelve": true, "twenty": true, "thirty": true, "forty": true,
	"fifty": true, "sixty": true, "hundred": true, "thousand": true,
	"first": true, "second": true, "fourth": true, "fifth": true, "sixth": true,
}

// edits calls f with every text one edit away: a character swapped with its
// neighbour, left out, replaced or put in. What f is given it must not keep.
func edits(text, alphabet string, f func(edited []byte)) {
	buf := make([]byte, 0, len(text)+1)
	for i := range len(text) {
		if i+1 < len(text) && text[i] != text[i+1] {
			buf = append(append(append(buf[:0], text[:i]...), text[i+1], text[i]), text[i+2:]...)
			f(buf)
		}
		buf = append(append(buf[:0], text[:i]...), text[i+1:]...)
		f(buf)
		buf = append(buf[:0], text...)
		for j := range len(alphabet) {
			if buf[i] = alphabet[j]; alphabet[j] != text[i] {
				f(buf)
			}
		}
	}
	for i := 0; i <= len(text); i++ {
		buf = append(append(append(buf[:0], text[:i]...), 0), text[i:]...)
		for j := range len(alphabet) {
			buf[i] = alphabet[j]
			f(buf)
		}
	}
}
