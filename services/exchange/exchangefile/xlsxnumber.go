package exchangefile

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"halfshaft/services/exchange"
)

// format is what a number format says of a cell, as far as it matters here.
type format struct {
	date     bool
	decimals int // digits that are shown after the point
}

// formatOf reads a format by its number, or by its code where the workbook
// gives one. The built-in numbers are those of ECMA-376 Part 1, 18.8.30 (from
// memory).
func formatOf(id, code string) format {
	if code != "" {
		return codeFormat(code)
	}
	n, err := strconv.Atoi(id)
	if err != nil {
		return format{}
	}
	switch {
	case n >= 14 && n <= 17, n == 22, n >= 27 && n <= 31, n == 36, n >= 50 && n <= 58:
		return format{date: true}
	case n == 2, n == 4, n == 10, n == 39, n == 40:
		return format{decimals: 2}
	}
	return format{}
}

// What stands in a format for itself: quoted and escaped characters, colours,
// conditions and time spans in brackets, and the marks of morning and evening.
var literal = regexp.MustCompile(`"[^"]*"|\\.|_.|\*.|\[[^\]]*\]|(?i:am/pm|a/p)`)

// codeFormat reads a format's code: "dd/mm/yyyy", "0.00".
func codeFormat(code string) format {
	code, _, _ = strings.Cut(code, ";") // the section for positive numbers
	code = strings.ToLower(literal.ReplaceAllString(code, ""))
	if code == "general" {
		return format{}
	}
	day := strings.ContainsAny(code, "yd")
	month := strings.Contains(code, "m") && !strings.ContainsAny(code, "hs")
	_, after, _ := strings.Cut(code, ".")
	decimals := 0
	for decimals < len(after) && after[decimals] == '0' {
		decimals++
	}
	return format{date: day || month, decimals: min(decimals, 9)}
}

// cell gives a number as the cell that a person sees: a day, or a number with
// all digits that are shown, and never fewer than it has.
func (f format) cell(value string, from1904 bool) exchange.Cell {
	n, err := strconv.ParseFloat(value, 64)
	if err != nil || math.IsInf(n, 0) || math.IsNaN(n) {
		return exchange.Cell{Text: value, Type: exchange.ErrorCell}
	}
	if f.date {
		if text, ok := dayText(n, from1904); ok {
			return exchange.Cell{Text: text, Type: exchange.DateCell}
		}
	}
	return exchange.Cell{Text: f.number(n), Type: exchange.NumberCell}
}

// A double has about 15 digits that a person typed; the rest is noise.
const digitsTyped = 15

func (f format) number(n float64) string {
	if math.Abs(n) >= 1e15 {
		return strconv.FormatFloat(n, 'E', -1, 64) // it has lost digits, and shows it
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(n, 'g', digitsTyped, 64), 64)
	text := strconv.FormatFloat(rounded, 'f', -1, 64)
	_, after, pointed := strings.Cut(text, ".")
	if missing := f.decimals - len(after); missing > 0 {
		if !pointed {
			text += "."
		}
		text += strings.Repeat("0", missing)
	}
	return text
}

// dayText gives the day, and the time where there is one, that a cell counts:
// days since the end of 1899, with a 29 February 1900 that never was, or since
// the beginning of 1904.
func dayText(n float64, from1904 bool) (string, bool) {
	const lastDay = 2958466 // the day after 9999-12-31
	if n < 1 || n >= lastDay {
		return "", false
	}
	first := time.Date(1899, time.December, 30, 0, 0, 0, 0, time.UTC)
	switch {
	case from1904:
		first = time.Date(1904, time.January, 1, 0, 0, 0, 0, time.UTC)
	case n < 60:
		first = first.AddDate(0, 0, 1)
	case n < 61:
		return "1900-02-29", true // refused where a day is wanted
	}
	whole, part := math.Modf(n)
	t := first.AddDate(0, 0, int(whole)).Add(time.Duration(math.Round(part*86400)) * time.Second)
	if t.Year() > 9999 {
		return "", false
	}
	if t.Hour() == 0 && t.Minute() == 0 && t.Second() == 0 {
		return t.Format("2006-01-02"), true
	}
	return t.Format("2006-01-02T15:04:05"), true
}

var escaped = regexp.MustCompile(`_x[0-9A-Fa-f]{4}_`)

// decodeEscapes reads the characters that XML cannot hold, and an underscore
// that would look like one: "_x000D_", "_x005F_".
func decodeEscapes(text string) string {
	if !strings.Contains(text, "_x") {
		return text
	}
	return escaped.ReplaceAllStringFunc(text, func(e string) string {
		n, err := strconv.ParseUint(e[2:6], 16, 32)
		if err != nil || !utf8.ValidRune(rune(n)) {
			return e
		}
		return string(rune(n))
	})
}
