package fault

import (
	"unicode/utf8"

	"halfshaft/services/wording"
)

// What people write is limited in characters, as they count it, and not in
// bytes: an "ü" is one character and two bytes, an emoji one and four. (A sign
// that is made of several, as a letter with a separate accent, counts as
// several.) Texts of requests are valid UTF-8 before anything looks at them;
// in one that is not, each byte that makes no character counts as one.

// Longer reports whether a text has more than so many characters.
func Longer(text string, most int) bool {
	return len(text) > most && utf8.RuneCountInString(text) > most
}

// AtMost says a limit for a text: "at most 2,000 characters".
func AtMost(most int) string { return "at most " + Characters(most) }

// Length says how long a text is: "2,001 characters".
func Length(text string) string { return Characters(utf8.RuneCountInString(text)) }

// Characters says a number of characters: "1 character", "2,000 characters".
func Characters(n int) string {
	if n == 1 {
		return "1 character"
	}
	return wording.Number(int64(n)) + " characters"
}
