package typeset

import (
	"regexp"
	"strings"
)

// withUnit is a number with its unit, or with what is counted in figures.
var withUnit = regexp.MustCompile(`([0-9]) (%|°C|(?:mm|km|km/h|mph|thou|in|N·m|N|kgf|lbf·ft|psi|kPa|bar|ml|l|g|V|mi|miles?|rev/min|h|days?|months?|years?|notches)\b)`)

// starred is a star that belongs to the word before it.
var starred = regexp.MustCompile(` (\*[;,.)]|\*$)`)

// Unparted is a text in which no line ends between a number and its unit, around
// a sign of multiplication, or before a star.
func Unparted(text string) string {
	text = withUnit.ReplaceAllString(text, "$1\u00a0$2")
	text = strings.ReplaceAll(text, " × ", "\u00a0×\u00a0")
	return starred.ReplaceAllString(text, "\u00a0$1")
}
