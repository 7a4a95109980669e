package build

import (
	"strings"
	"unicode"
)

// Fold is a number as it is compared: letters and digits alone, in upper case.
// Spaces, hyphens and dots come and go when a number is stamped, typed and
// read out; they never make it another.
func Fold(text string) string {
	return strings.Map(func(r rune) rune {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			return -1
		}
		return unicode.ToUpper(r)
	}, text)
}
