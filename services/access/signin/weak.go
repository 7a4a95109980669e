package signin

import (
	"strings"
	"unicode/utf8"
)

// period gives how many bytes of a text are repeated to make all of it, the
// last time perhaps cut short; its whole length where nothing is.
func period(s string) int {
	for p := 1; p <= len(s)/2; p++ {
		if s[p:] == s[:len(s)-p] && utf8.RuneStart(s[p]) {
			return p
		}
	}
	return len(s)
}

// repeats reports whether a text, or what is left of it without figures at its
// ends, is something over and over that alone were too short.
func repeats(plain string) bool {
	for _, s := range []string{plain, strings.Trim(plain, "0123456789")} {
		if p := period(s); p < len(s) && utf8.RuneCountInString(s[:p]) < ShortestPassword {
			return true
		}
	}
	return false
}

// rows are what fingers follow and people count: the alphabet, figures, and rows
// and columns of the keyboards of Britain, Germany and France.
var rows = []string{
	"abcdefghijklmnopqrstuvwxyz", "01234567890",
	"qwertyuiop", "asdfghjkl", "zxcvbnm", "qwertzuiopü", "asdfghjklöä", "yxcvbnm", "azertyuiop", "qsdfghjklm", "wxcvbn",
	"1qaz", "2wsx", "3edc", "4rfv", "5tgb", "6yhn", "7ujm", "8ik", "9ol", "2ws", "zaq1", "xsw2", "cde3", "vfr4",
}

// Of a row so many keys are one: two neighbours stand in many words.
const leastWalk = 3

// mostBeside is how many characters beside rows do not make a password better.
const mostBeside = 4

// walks reports whether a text is made of rows of keys, forwards or backwards,
// or of one character repeated, and little else.
func walks(plain string) bool {
	text := []rune(plain)
	beside, run := 0, 1
	for i := 1; i <= len(text); i++ {
		if i < len(text) && neighbours(text[i-1], text[i]) {
			run++
			continue
		}
		if run < leastWalk {
			beside += run
		}
		run = 1
	}
	return beside <= mostBeside
}

// neighbours reports whether two characters stand side by side in a row, or are
// the same.
func neighbours(a, b rune) bool {
	if a == b {
		return true
	}
	for _, row := range rows {
		if strings.Contains(row, string([]rune{a, b})) || strings.Contains(row, string([]rune{b, a})) {
			return true
		}
	}
	return false
}
