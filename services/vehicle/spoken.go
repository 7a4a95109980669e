package vehicle

import "strings"

// spokenWords are the words by which characters are spelled on the telephone:
// the radiotelephony alphabet as letterWords has it, the spellings that people
// write it in, and the digits. "oh" is the letter, since that is what was said:
// whether the digit was meant the check character tells, and a person asks.
var spokenWords = func() map[string]byte {
	out := map[string]byte{
		"alpha": 'A', "juliet": 'J', "whisky": 'W', "xray": 'X', "oh": 'O',
		"nought": '0', "naught": '0', "tree": '3', "fower": '4', "fife": '5', "niner": '9',
	}
	for i, w := range letterWords {
		out[strings.ToLower(w)] = byte('A' + i)
	}
	for i, w := range digitWords {
		out[w] = byte('0' + i)
	}
	return out
}()

// repeats are said before what is there more than once.
var repeats = map[string]int{"double": 2, "treble": 3, "triple": 3}

// Unspelled gives what was heard with its characters as they are, where they were
// spelled in words; anything else as it is.
func Unspelled(heard string) string {
	if text, ok := unspoken(heard); ok {
		return text
	}
	return heard
}

// unspoken gives the characters that a text spells in words, "Alfa Mike zero one
// four seven Papa", or with some of them as they are, "alpha mike 0147 papa".
// It reports false for a text that spells nothing: without a word, or with one
// that nobody spells by.
func unspoken(text string) (string, bool) {
	if len(text) > maxHeard || !hasWord(text) {
		return "", false
	}
	var out strings.Builder
	tokens := strings.FieldsFunc(strings.ToLower(text), isSeparator)
	spelled, times := false, 1
	for i := 0; i < len(tokens); i++ {
		t := tokens[i]
		if n, ok := repeats[t]; ok && times == 1 && i+1 < len(tokens) {
			times, spelled = n, true
			continue
		}
		if t == "x" && i+1 < len(tokens) && tokens[i+1] == "ray" {
			i++
			t = "xray"
		}
		c, ok := spokenWords[t]
		switch {
		case ok:
			spelled = true
			t = string(rune(c))
		case len(t) > maxBody+1 || strings.ContainsFunc(t, func(r rune) bool { _, known := upper(r); return !known }):
			return "", false
		case times > 1 && len(t) > 1:
			return "", false // "double 47": of what?
		case strings.IndexFunc(t, isDigitRune) < 0 && len(t) > 2:
			return "", false // a word that spells nothing
		}
		out.WriteString(strings.ToUpper(strings.Repeat(t, times)))
		times = 1
	}
	return out.String(), spelled && times == 1
}

// hasWord reports whether three letters stand together, as in every word that is
// spelled by but "oh": nothing is allocated for a serial as it is written.
func hasWord(text string) bool {
	run := 0
	for i := range len(text) {
		if c := text[i] | 0x20; c < 'a' || c > 'z' {
			run = 0
		} else if run++; run == 3 {
			return true
		}
	}
	return false
}

func isDigitRune(r rune) bool { return r >= '0' && r <= '9' }
