package console

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"google.golang.org/genproto/googleapis/type/date"

	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// pageWidth is the width that running text is wrapped to, in characters: what
// an unchanged terminal shows.
const pageWidth = 96

// sheet collects lines of text.
type sheet struct{ strings.Builder }

func (s *sheet) line(format string, args ...any) {
	fmt.Fprintf(s, format, args...)
	s.WriteByte('\n')
}

// heading begins a section.
func (s *sheet) heading(format string, args ...any) {
	if s.Len() > 0 {
		s.WriteByte('\n')
	}
	s.line(format, args...)
}

// text writes running text, wrapped, after a label; further lines are indented
// as far as the first.
func (s *sheet) text(label, text string) {
	indent := strings.Repeat(" ", utf8.RuneCountInString(label))
	for _, l := range wrap(text, pageWidth-len(indent)) {
		s.line("%s%s", label, l)
		label = indent
	}
}

// wrap breaks a text at its spaces into lines of at most width characters; a
// longer word has a line of its own.
func wrap(text string, width int) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		switch {
		case line == "":
			line = word
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width:
			lines = append(lines, line)
			line = word
		default:
			line += " " + word
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// table writes rows in columns as wide as they need; the last column is not
// padded.
func (s *sheet) table(indent string, rows [][]string) {
	var widths []int
	for _, row := range rows {
		for i, cell := range row {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	for _, row := range rows {
		line := indent
		for i, cell := range row {
			line += cell
			if i < len(row)-1 {
				line += strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell)+2)
			}
		}
		s.line("%s", strings.TrimRight(line, " "))
	}
}

// day prints a civil date for people; an absent one as nothing.
func day(d *date.Date) string {
	civil, err := vehiclewire.Date(d)
	if err != nil || civil.IsZero() {
		return ""
	}
	return civil.Long()
}

// entered prints a distance as it was entered.
func entered(d *vehiclev1.Distance) string {
	if d.GetEnteredUnit() == "" {
		return ""
	}
	return d.GetEnteredValue() + " " + d.GetEnteredUnit()
}

// distance prints a computed distance in a unit, whole.
func distance(d *vehiclev1.Distance, unit string) string {
	u, err := vehicle.ParseUnit(unit)
	if err != nil {
		u = vehicle.Miles
	}
	return vehicle.Distance(d.GetMillimetres()).Text(u)
}

// quantity prints a number with its unit.
func quantity(q *vehiclev1.Quantity) string {
	return strings.TrimSpace(q.GetValue() + " " + q.GetUnit())
}

// word makes an enum value readable: "DUE_STATE_NOT_YET" without its prefix
// is "not yet".
func word(value fmt.Stringer, prefix string) string {
	text := strings.TrimPrefix(value.String(), prefix)
	return strings.ToLower(strings.ReplaceAll(text, "_", " "))
}

// plural prints a count with its noun.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return wording.Grouped(strconv.Itoa(n)) + " " + many
}
