package typeset

import "strings"

// Wrap breaks a text at spaces into lines of a width, each as full as it gets,
// and within a word that is wider than a line where it must. Spaces that must
// not be broken at are not among them.
func Wrap(text string, width float64, measure func(string) float64) (lines []string) {
	line := ""
	for word := range strings.FieldsFuncSeq(text, func(r rune) bool { return r == ' ' || r == '\t' }) {
		if line != "" && measure(line+" "+word) <= width {
			line += " " + word
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		line = ""
		for _, part := range Cut(word, width, measure) {
			if line != "" {
				lines = append(lines, line)
			}
			line = part
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// Cut parts a word that is wider than a line; one that is not stays whole.
func Cut(word string, width float64, measure func(string) float64) (parts []string) {
	part := ""
	for _, r := range word {
		if part != "" && measure(part+string(r)) > width {
			parts, part = append(parts, part), ""
		}
		part += string(r)
	}
	return append(parts, part)
}
