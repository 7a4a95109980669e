package signin

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"halfshaft/services/fault"
)

// How long a password may be. NIST SP 800-63B, on memorized secrets, asks for 8
// at least and 64 at the least maximum, for no rules of composition and for a
// comparison with the commonest ones; the OWASP sheet on password storage bounds
// the length because of the work that a long one makes (both from memory). Twelve
// because a sentence comes to it easily.
const (
	ShortestPassword = 12
	LongestPassword  = 128
)

// CheckPassword says what is wrong with a password somebody wants. names are
// those it may not contain: the account's, its bearer's and the works'.
func CheckPassword(field, password string, names ...string) error {
	refuse := func(want string) error {
		// What was there is never repeated.
		return fault.InvalidField(field, "", want)
	}
	length := utf8.RuneCountInString(password)
	switch {
	case !utf8.ValidString(password):
		return refuse("a password of characters that can be read")
	case length < ShortestPassword:
		return refuse(fmt.Sprintf("at least %d characters: several words make a good one", ShortestPassword))
	case length > LongestPassword:
		return refuse(fmt.Sprintf("at most %d characters", LongestPassword))
	}
	plain := folded(password)
	for _, name := range names {
		for _, word := range append(strings.Fields(name), name) {
			if word = folded(word); utf8.RuneCountInString(word) >= 3 && strings.Contains(plain, word) {
				return refuse("a password without your name or the works' name in it")
			}
		}
	}
	switch {
	case common(plain):
		return refuse("a password that is less common")
	case repeats(plain):
		return refuse("a password that is not the same over and over")
	case walks(plain):
		return refuse("a password that is no row of keys, letters or figures")
	}
	return nil
}

// folded writes a password or a name so that case and separators make no
// difference.
func folded(s string) string {
	return strings.Map(func(r rune) rune {
		switch r {
		case ' ', '-', '_', '.', ',', '!':
			return -1
		}
		return r
	}, strings.ToLower(s))
}
