package enquiry

import (
	"strings"
	"unicode"
)

// spoken gives the words of a text in order, in small letters and plain ones:
// however somebody writes an umlaut or an apostrophe, it is the same word.
func spoken(text string) []string {
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.Is(unicode.Mn, r) && !apostrophes[r]
	})
	out := words[:0]
	for _, w := range words {
		w = strings.Map(func(r rune) rune {
			if apostrophes[r] {
				return '\''
			}
			return r
		}, w)
		w = strings.TrimSuffix(strings.Trim(w, "'"), "'s")
		if w = strings.ReplaceAll(w, "'", ""); w != "" { // won't: wont
			out = append(out, w)
		}
	}
	return out
}

// apostrophes are the signs that are typed for one.
var apostrophes = map[rune]bool{'\'': true, '\u2019': true, '\u2018': true, '\u02bc': true, '\u00b4': true, '`': true}

// plain writes a word without marks on its letters: a German umlaut as two
// letters, as it is typed where the key is missing, and others as the letter.
// Marks may stand in the letter or after it.
func plain(w string) string {
	var out strings.Builder
	last := rune(0)
	for _, r := range w {
		switch letters, marked := unmarked[r]; {
		case marked:
			out.WriteString(letters)
		case r == diaeresis && strings.ContainsRune("aou", last):
			out.WriteByte('e')
		case !unicode.Is(unicode.Mn, r):
			out.WriteRune(r)
		}
		last = r
	}
	return out.String()
}

// diaeresis is the two dots of an umlaut as a mark of their own.
const diaeresis = '\u0308'

// unmarked are the letters with marks that are written in western Europe.
var unmarked = func() map[rune]string {
	out := map[rune]string{'ä': "ae", 'æ': "ae", 'ö': "oe", 'ø': "oe", 'œ': "oe", 'ü': "ue", 'ß': "ss"}
	for letter, marked := range map[string]string{"a": "àáâãå", "c": "ç", "e": "èéêë", "i": "ìíîï", "n": "ñ", "o": "òóôõ", "u": "ùúû", "y": "ýÿ"} {
		for _, r := range marked {
			out[r] = letter
		}
	}
	return out
}()

// joined puts words together that are written as one or as two: gear box.
func joined(words []string) []string {
	out := make([]string, 0, len(words))
	for i := 0; i < len(words); i++ {
		if i+1 < len(words) {
			if both := stemOf(words[i]) + words[i+1]; compounds[both] || compounds[stemOf(both)] {
				out = append(out, words[i]+" "+words[i+1])
				i++
				continue
			}
		}
		out = append(out, words[i])
	}
	return out
}

// compounds are words of the trade that are written as one and as two, by their
// stems.
var compounds = func() map[string]bool {
	out := map[string]bool{}
	for w := range setOf(`gearbox propshaft halfshaft handbrake endfloat layup laidup turnover fanbelt crankshaft camshaft
		flywheel bellhousing driveshaft footbrake waterpump dipstick crankcase startup`) {
		out[stemOf(w)] = true
	}
	return out
}()
