// Package wording puts the pieces of an English sentence together.
package wording

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Count is a number of things whose plural is regular: "1 day", "3 days", "1,461
// days".
func Count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return Number(int64(n)) + " " + noun + "s"
}

// Verb is what so many things do, by what one does and what several do: "is",
// "are".
func Verb(n int, one, several string) string {
	if n == 1 {
		return one
	}
	return several
}

// Grouped writes a decimal number with commas between its thousands, as people
// who read English have them: "12,345.6".
func Grouped(number string) string {
	whole, tenths, fraction := strings.Cut(number, ".")
	for at := len(whole) - 3; at > 0 && whole[at-1] != '-'; at -= 3 {
		whole = whole[:at] + "," + whole[at:]
	}
	if fraction {
		whole += "." + tenths
	}
	return whole
}

// Number writes a whole number with its digits in groups: "12,345".
func Number(n int64) string { return Grouped(strconv.FormatInt(n, 10)) }

// Money writes hundredths of a currency: "1,184.50 GBP".
func Money(minor int64, currency string) string {
	sign, size := "", uint64(minor)
	if minor < 0 {
		sign, size = "-", -size
	}
	cents := strconv.FormatUint(size%100+100, 10)[1:]
	return strings.TrimSpace(sign + Grouped(strconv.FormatUint(size/100, 10)) + "." + cents + " " + currency)
}

// List puts words in a row as a sentence does, with "and" or "or" before the
// last: "June, July and August".
func List(words []string, last string) string {
	n := len(words) - 1
	if n < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:n], ", ") + " " + last + " " + words[n]
}

// Ended gives a sentence its full stop; one that ends already, or is empty, stays
// as it is.
func Ended(text string) string {
	if text == "" || strings.ContainsAny(text[len(text)-1:], ".!?") {
		return text
	}
	return text + "."
}

// UpperFirst begins a sentence or a line with a capital. What begins with a sign
// or a number stays as it is.
func UpperFirst(text string) string { return first(text, unicode.ToUpper) }

// LowerFirst writes within a sentence what began one. What does not begin with a
// word keeps its capitals: "SAE 90", "E01", "O-ring", "U/J grease".
func LowerFirst(text string) string {
	_, size := utf8.DecodeRuneInString(text)
	if next, _ := utf8.DecodeRuneInString(text[size:]); size < len(text) && !unicode.IsLower(next) && next != ' ' {
		return text
	}
	return first(text, unicode.ToLower)
}

func first(text string, to func(rune) rune) string {
	r, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return ""
	}
	if r == utf8.RuneError {
		return text
	}
	return string(to(r)) + text[size:]
}
