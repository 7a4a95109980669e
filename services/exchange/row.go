package exchange

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	"halfshaft/services/vehicle"
)

// row is one row of a table as it was read.
type row struct {
	keys    map[string]string // by Column.Key
	message protoreflect.Message
	bad     bool // something was wrong with it
}

// readRow reads one row. It gives nil for a row without anything in it.
func (l *Layout) readRow(cells []Cell, at func(column, got, want string)) *row {
	if blank(cells) {
		return nil
	}
	r := &row{keys: map[string]string{}, message: l.table.message.New()}
	refuse := func(column, got, want string) {
		r.bad = true
		at(column, got, want)
	}
	filled := make([]bool, len(l.table.Columns))
	for i, cell := range cells {
		if i >= len(l.columns) {
			if strings.TrimSpace(cell.Text) != "" {
				refuse("", cell.Text, "nothing beyond the last column of the header")
			}
			continue
		}
		if s := l.columns[i]; s.index != skipped {
			filled[s.index] = l.readCell(r, s, cell, s.unitIn(cells), refuse)
		} else if strings.TrimSpace(cell.Text) != "" && !l.isUnit(i) {
			refuse("", cell.Text, "nothing under an empty header")
		}
	}
	l.fillIn(r, filled, refuse)
	return r
}

// fillIn fills what the row left out, and asks for what it must have. What the
// whole file has no column for is asked of new records only: see checkNew.
func (l *Layout) fillIn(r *row, filled []bool, refuse func(column, got, want string)) {
	for i := range l.table.Columns {
		c := &l.table.Columns[i]
		switch {
		case filled[i]:
		case c.Required && (l.has[i] || l.table.indispensable(i)):
			refuse(c.Name, "", c.needed())
		case c.Default != "":
			c.fill(r.message, l.table.ordered[i], c.Default, "")
		}
	}
}

// needed words what an empty cell should have had.
func (c *Column) needed() string {
	if c.Kind == Flag {
		return "yes or no: " + c.Doc
	}
	return c.Name
}

func blank(cells []Cell) bool {
	for _, c := range cells {
		if strings.TrimSpace(c.Text) != "" {
			return false
		}
	}
	return true
}

// unitIn finds the unit that belongs to a cell.
func (s slot) unitIn(cells []Cell) string {
	if s.unit >= 0 && s.unit < len(cells) {
		return strings.TrimSpace(cells[s.unit].Text)
	}
	return s.fixed
}

// isUnit says whether a column of the file gives the unit of another.
func (l *Layout) isUnit(column int) bool {
	for _, s := range l.columns {
		if s.unit == column {
			return true
		}
	}
	return l.columns[column].unit == refusedHeader
}

// readCell reads one cell into the row and says whether there was anything.
func (l *Layout) readCell(r *row, s slot, cell Cell, unit string, refuse func(column, got, want string)) bool {
	c := &l.table.Columns[s.index]
	text, bad := readText(cell.Text)
	if bad == nil {
		text = unescape(text)
		if text == "" {
			return false
		}
		bad = c.suits(cell)
	}
	if bad == nil && c.Key != "" {
		text, bad = c.key(text)
		r.keys[c.Key] = text
	} else if bad == nil {
		bad = c.fill(r.message, l.table.ordered[s.index], text, unit)
	}
	if bad != nil {
		refuse(c.Name, cell.Text, bad.want)
	}
	return true
}

// suits refuses what a spreadsheet made of a cell behind its owner's back.
func (c *Column) suits(cell Cell) *complaint {
	switch {
	case cell.Type == ErrorCell && strings.HasPrefix(cell.Text, "="):
		return wanted("a value: the file has a formula here that nobody has computed")
	case cell.Type == ErrorCell:
		return wanted("a value: the spreadsheet shows an error here")
	case cell.Type == DateCell && c.Kind != Date:
		return wanted("text: the spreadsheet has made a date of it")
	case cell.Type == NumberCell && c.Kind == Date:
		return wanted("a day, the year first: 2020-04-03, or a cell formatted as a date")
	case cell.Type == NumberCell && strings.ContainsAny(cell.Text, "eE"):
		return wanted("text: the spreadsheet has made a number of it and lost its last digits")
	}
	return nil
}

// key reads a cell that is part of the record's name.
func (c *Column) key(text string) (string, *complaint) {
	if c.Kind == Serial {
		serial, err := vehicle.ParseSerial(strings.TrimPrefix(text, "builds/"))
		if err != nil {
			return "", wanted(serialWant(err))
		}
		return string(serial), nil
	}
	text = strings.TrimPrefix(text, "parts/")
	return text, readIdentifier(text)
}

// name fills the table's pattern with the keys; false when one is missing.
func (t *Table) name(keys map[string]string) (string, bool) {
	name := t.pattern
	for {
		before, rest, found := strings.Cut(name, "{")
		if !found {
			return name, true
		}
		key, after, _ := strings.Cut(rest, "}")
		value := keys[key]
		if value == "" {
			return "", false
		}
		name = before + value + after
	}
}

// identify gives a row that has no identifier one that follows from its
// content, so that the same row always becomes the same record.
func (t *Table) identify(r *row) {
	if !strings.Contains(t.pattern, "{id}") || r.keys["id"] != "" || r.bad {
		return
	}
	h := sha256.New()
	h.Write([]byte(t.Name))
	for i := range t.Columns {
		c := &t.Columns[i]
		if !c.Identity {
			continue
		}
		text := r.keys[c.Key]
		if c.Key == "" {
			text = c.text(r.message, t.ordered[i])
		}
		h.Write([]byte("\x00" + text))
	}
	r.keys["id"] = hex.EncodeToString(h.Sum(nil))[:12]
}
