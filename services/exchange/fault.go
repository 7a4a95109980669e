package exchange

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"halfshaft/services/fault"
)

// Fault is one thing that is wrong with the files, and where.
type Fault struct {
	File   string `json:"file"`
	Sheet  string `json:"sheet,omitempty"`  // empty in CSV and YAML
	Row    int    `json:"row,omitempty"`    // as a spreadsheet counts, the header is 1; the line in YAML; 0 for the whole file
	Column string `json:"column,omitempty"` // header of the column, or path in a document; empty for the whole row
	Got    string `json:"got"`
	Want   string `json:"want"`
}

// Faults collects what is wrong. All are counted; of a file that is wrong in
// every cell only the first hundred thousand are kept, so that junk cannot
// fill the memory.
type Faults struct {
	list  []Fault
	total int
}

const maxFaults = 100_000

// Add notes one fault.
func (f *Faults) Add(one Fault) {
	f.total++
	if len(f.list) < maxFaults {
		one.Got = shorten(one.Got)
		f.list = append(f.list, one)
	}
}

// Len gives how many there were, those that were found by more than one check
// as often.
func (f *Faults) Len() int { return f.total }

// Dropped gives how many were counted and not kept.
func (f *Faults) Dropped() int { return f.total - len(f.list) }

// Sorted gives the faults by file, sheet, row and column, each once: a cell
// that names what is not there may have been found by more than one check.
func (f *Faults) Sorted() []Fault {
	out := slices.Clone(f.list)
	slices.SortStableFunc(out, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Sheet, b.Sheet), cmp.Compare(a.Row, b.Row),
			cmp.Compare(a.Column, b.Column), cmp.Compare(a.Got, b.Got), cmp.Compare(a.Want, b.Want))
	})
	return slices.CompactFunc(out, func(a, b Fault) bool {
		if a.Got != "" && a.Column != "" {
			a.Want = b.Want
		}
		return a == b
	})
}

// shorten keeps what a person needs to find a cell again.
func shorten(s string) string {
	const most = 80
	if !utf8.ValidString(s) {
		return fmt.Sprintf("%d bytes that are not UTF-8: %.20q", len(s), s)
	}
	if !fault.Longer(s, most) {
		return s
	}
	return firstRunes(s, most) + "… (" + fault.Length(s) + ")"
}

// WriteFaults prints faults for people, file by file; they are expected in
// the order of Faults.Sorted.
func WriteFaults(w io.Writer, faults []Fault) error {
	place := ""
	for i := range faults {
		f := &faults[i]
		here := f.File
		if f.Sheet != "" {
			here += ", sheet " + f.Sheet
		}
		if here != place {
			if place != "" {
				fmt.Fprintln(w)
			}
			fmt.Fprintln(w, printable(here))
			place = here
		}
		if _, err := fmt.Fprintln(w, "  "+f.line()); err != nil {
			return err
		}
	}
	return nil
}

// line is one fault without its file.
func (f *Fault) line() string {
	var where []string
	if f.Row > 0 {
		where = append(where, "row "+strconv.Itoa(f.Row))
	}
	if f.Column != "" {
		where = append(where, printable(f.Column))
	}
	line := strings.Join(where, ", ")
	if line != "" {
		line += ": "
	}
	got := "nothing"
	if f.Got != "" {
		got = strconv.Quote(f.Got)
	}
	return line + "got " + got + ", want " + printable(f.Want)
}

// printable keeps what a file says from steering the terminal.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.In(r, unicode.Cf) {
			return unicode.ReplacementChar
		}
		return r
	}, s)
}

func firstRunes(s string, n int) string {
	for i := range s {
		if n == 0 {
			return s[:i]
		}
		n--
	}
	return s
}
