package exchange

import (
	"fmt"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// leave takes over from the record that is there what the files do not speak
// of: the fields for which they have no column, and the lines for which they
// have neither rows nor a cell. An empty cell speaks: it clears.
func (c *Collection) leave(d *Draft, theirs protoreflect.Message) {
	if d.layout == nil || d.layout.whole() && !c.linesLeft(d.Table) {
		return // a document says everything, and so do most files
	}
	mine := d.Table.message.New()
	decode(d.row, mine)
	d.layout.leave(mine, theirs)
	for _, t := range Tables() {
		if t.parent != d.Table.Name || t.joins != "" {
			continue
		}
		f := mine.Descriptor().Fields().ByName(protoreflect.Name(t.field))
		recorded := theirs.Get(f).List()
		if c.counts[t] == 0 && !d.layout.hasField(t.field) {
			copyList(mine, f, recorded)
			continue
		}
		list := mine.Get(f).List() // of lines that were named in a cell
		for i := range list.Len() {
			c.leaveUnder(t, list.Get(i).Message(), recorded)
		}
		for i := range d.lines {
			if d.lines[i].table == t {
				c.leaveLine(&d.lines[i], recorded)
			}
		}
	}
	d.row = encode(mine)
}

// linesLeft says whether a table has lines of which the import may not speak.
func (c *Collection) linesLeft(t *Table) bool {
	for _, lines := range Tables() {
		if lines.parent == t.Name && (c.counts[lines] == 0 || !t.frozen) {
			return true
		}
	}
	return false
}

// whole says whether the file has all columns of an export.
func (l *Layout) whole() bool {
	for _, i := range l.table.written() {
		if !l.has[i] {
			return false
		}
	}
	return true
}

// leave takes over the fields for which the file has no column.
func (l *Layout) leave(mine, theirs protoreflect.Message) {
	for i := range l.table.Columns {
		c := &l.table.Columns[i]
		if l.has[i] || c.Path == "" || c.Alone {
			continue
		}
		path := l.table.ordered[i]
		if v, set := path.get(theirs); set {
			path.holder(mine).Set(path.last(), v)
		} else if path.held(mine) {
			path.holder(mine).Clear(path.last()) // a default is for new lines
		}
	}
}

// hasField says whether a column of the file fills a field.
func (l *Layout) hasField(field string) bool {
	for i := range l.table.Columns {
		if l.has[i] && l.table.Columns[i].Path == field {
			return true
		}
	}
	return false
}

// leaveLine does for a line what leave does for a record. The recorded line is
// the one that says the same in all columns that must be filled in.
func (c *Collection) leaveLine(l *line, recorded protoreflect.List) {
	mine := l.table.message.New()
	decode(l.row, mine)
	for i := range recorded.Len() {
		if theirs := recorded.Get(i).Message(); l.table.sameLine(mine, theirs) {
			l.layout.leave(mine, theirs)
			break
		}
	}
	c.leaveUnder(l.table, mine, recorded)
	l.row = encode(mine)
}

func (t *Table) sameLine(a, b protoreflect.Message) bool {
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.Required && c.Path != "" && c.text(a, t.ordered[i]) != c.text(b, t.ordered[i]) {
			return false
		}
	}
	return true
}

// leaveUnder keeps the lines of a line where the import has none of their
// table.
func (c *Collection) leaveUnder(t *Table, mine protoreflect.Message, recorded protoreflect.List) {
	for _, under := range Tables() {
		outer, inner, nested := cutField(under.field)
		if under.parent != t.parent || !nested || outer != t.field || c.counts[under] > 0 {
			continue
		}
		key := mine.Descriptor().Fields().ByName(protoreflect.Name(under.joins))
		for i := range recorded.Len() {
			if theirs := recorded.Get(i).Message(); theirs.Get(key).Equal(mine.Get(key)) {
				f := mine.Descriptor().Fields().ByName(protoreflect.Name(inner))
				copyList(mine, f, theirs.Get(f).List())
				break
			}
		}
	}
}

func copyList(to protoreflect.Message, f protoreflect.FieldDescriptor, from protoreflect.List) {
	to.Clear(f)
	list := to.Mutable(f).List()
	for i := range from.Len() {
		list.Append(from.Get(i))
	}
}

// checkNew asks for the columns that a new record must have and its file lacks:
// once for each file and column, not at every row.
func (c *Collection) checkNew() {
	type lack struct {
		layout *Layout
		column int
	}
	var order []lack
	first, more := map[lack]*Draft{}, map[lack]int{}
	for _, t := range Tables() {
		for _, d := range c.drafts[t] {
			if d.met {
				continue
			}
			for i := range t.Columns {
				if !t.Columns[i].Required || d.layout.has[i] {
					continue
				}
				at := lack{d.layout, i}
				d.refused = append(d.refused, refusal{d.place, t.Columns[i].Name})
				d.bad, d.misread = true, true
				if first[at] == nil {
					first[at] = d
					order = append(order, at)
				} else {
					more[at]++
				}
			}
		}
	}
	for _, at := range order {
		column := &at.layout.table.Columns[at.column]
		c.at(at.layout.place, column.Name, "", "the column "+column.Name+column.newWords(first[at], more[at]))
	}
}

// newWords says for which rows a missing column is needed.
func (c *Column) newWords(first *Draft, more int) string {
	text := ""
	if c.Kind == Flag {
		text = " with yes or no (" + c.Doc + ")"
	}
	text += fmt.Sprintf(", for %s in row %d is new", first.Name, first.place.row)
	switch more {
	case 0:
		return text
	case 1:
		return text + ", and so is one more"
	}
	return text + fmt.Sprintf(", and so are %d more", more)
}
