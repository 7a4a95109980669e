package exchange

import (
	"slices"
	"strings"
)

// Layout is how the columns of one file or sheet lie.
type Layout struct {
	table   *Table
	columns []slot
	has     []bool // which columns of the table the file has
	place   Place  // of the header
}

// slot is what one column of the file fills.
type slot struct {
	index int    // column of the table
	unit  int    // column of the file with its unit; -1 for none
	fixed string // the unit that the header gives: "reading (miles)"
}

// skipped marks a column of the file that fills nothing by itself; its unit is
// refusedHeader when the header was wrong, for then its cells are no news.
const (
	skipped       = -1
	refusedHeader = -2
)

// ReadHeader understands the header row of a table, in whatever order its
// columns stand. Names may be written with spaces, underscores or hyphens, in
// upper or lower case. Besides the table's own columns there may be
// "<name> unit", or plain "unit" where only one column, or only one that must
// be there, has one, and "<name> (<unit>)".
func (t *Table) ReadHeader(cells []Cell, at func(column, got, want string)) *Layout {
	l := &Layout{table: t, columns: make([]slot, len(cells)), has: make([]bool, len(t.Columns))}
	units := map[int]int{} // column of the table -> column of the file with its unit
	for i, cell := range cells {
		name := strings.TrimSpace(cell.Text)
		l.columns[i] = slot{index: skipped, unit: -1}
		if name == "" {
			continue
		}
		if index, isUnit := t.unitColumn(name); isUnit {
			units[index] = i
			continue
		}
		index, fixed := t.named(name)
		switch {
		case index < 0:
			l.columns[i].unit = refusedHeader
			at(name, name, "one of the columns: "+strings.Join(t.names(), ", "))
		case l.has[index]:
			l.columns[i].unit = refusedHeader
			at(name, name, "each column once")
		default:
			l.columns[i] = slot{index: index, unit: -1, fixed: fixed}
			l.has[index] = true
		}
	}
	for i := range l.columns {
		if unit, ok := units[l.columns[i].index]; ok {
			l.columns[i].unit = unit
		}
	}
	for i, c := range t.Columns {
		if t.indispensable(i) && !l.has[i] {
			at(c.Name, "", "the column "+c.Name)
		}
	}
	return l
}

// indispensable says whether no row can do without a column: it is required,
// and no record that is there already can lend what it says, because it tells
// which record that is, or because such records are never imported anew.
func (t *Table) indispensable(column int) bool {
	c := &t.Columns[column]
	return c.Required && (t.frozen || t.IsLine() || c.Key != "" || c.Identity)
}

// names gives the names of all columns.
func (t *Table) names() []string {
	var out []string
	for _, c := range t.Columns {
		out = append(out, c.Name)
	}
	return out
}

// unitColumn says whether a header names the unit of another column, and of
// which.
func (t *Table) unitColumn(name string) (index int, ok bool) {
	if t.exactly(name) >= 0 {
		return 0, false
	}
	of, isUnit := strings.CutSuffix(squeeze(name), "unit")
	if !isUnit {
		return 0, false
	}
	var measured, required []int
	for i, c := range t.Columns {
		if c.Kind == Measure || c.Kind == Distance {
			measured = append(measured, i)
			if c.Required {
				required = append(required, i)
			}
		}
	}
	switch {
	case of == "" && len(required) == 1:
		return required[0], true
	case of == "" && len(measured) == 1:
		return measured[0], true
	}
	i := slices.IndexFunc(measured, func(i int) bool { return squeeze(t.Columns[i].Name) == of })
	if i < 0 {
		return 0, false
	}
	return measured[i], true
}

// exactly finds a column by the whole header.
func (t *Table) exactly(name string) int {
	sought := squeeze(name)
	return slices.IndexFunc(t.Columns, func(c Column) bool { return squeeze(c.Name) == sought })
}

// named finds a column by its header, which may give a unit in brackets.
func (t *Table) named(name string) (index int, unit string) {
	if i := t.exactly(name); i >= 0 {
		return i, ""
	}
	before, after, ok := strings.Cut(name, "(")
	unit, closed := strings.CutSuffix(strings.TrimSpace(after), ")")
	i := t.exactly(before)
	if !ok || !closed || i < 0 || t.Columns[i].Kind != Measure && t.Columns[i].Kind != Distance {
		return -1, ""
	}
	return i, strings.TrimSpace(unit)
}
