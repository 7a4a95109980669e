package exchange

import (
	"strings"
	"unicode"
)

// A spreadsheet takes a cell that begins with = + - @ a tab or a carriage
// return for a formula, so an export puts an apostrophe before such a text, as
// spreadsheets do themselves for "this is text". The same mark keeps blanks at
// the ends of a text, which an import otherwise takes for slips.

// escape marks a text that would not come back as it is.
func escape(s string) string {
	if needsMark(s) {
		return "'" + s
	}
	return s
}

// unescape undoes escape, and takes blanks off the ends of anything else.
func unescape(cell string) string {
	if rest, ok := strings.CutPrefix(cell, "'"); ok && needsMark(rest) {
		return rest
	}
	return strings.TrimSpace(cell)
}

// needsMark says whether s, after any marks that it begins with already, would
// be taken for a formula or has blanks at an end.
func needsMark(s string) bool {
	rest := strings.TrimLeft(s, "'")
	if rest == "" {
		return false
	}
	return strings.IndexByte("=+-@\t\r", rest[0]) >= 0 || strings.TrimSpace(rest) != rest
}

// plain makes a text fit to be written to a file: line ends are \n, and other
// characters that neither CSV nor XLSX can carry become U+FFFD. The services
// refuse those; they are replaced here so that no record can spoil an export.
func plain(s string) string {
	if !strings.ContainsFunc(s, unfit) {
		return s
	}
	s = strings.ReplaceAll(s, "\r\n", "\n")
	s = strings.ReplaceAll(s, "\r", "\n")
	return strings.Map(func(r rune) rune {
		if unfit(r) {
			return unicode.ReplacementChar
		}
		return r
	}, s)
}

// unfit says whether a character has no place in a cell: control characters
// but tab and line feed, and what XML 1.0 cannot say.
func unfit(r rune) bool {
	return r < ' ' && r != '\t' && r != '\n' || r >= 0x7f && r < 0xa0 && r != 0x85 || r == 0xfffe || r == 0xffff
}
