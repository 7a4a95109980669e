package exchange

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// indexed takes "components[3].position" apart.
var indexed = regexp.MustCompile(`^([a-z_]+)\[(\d+)\]\.?(.*)$`)

// Refuse notes a fault in a record by the path of the field in its message, at
// the row and column, or the line of the document, where that field was read.
func (c *Collection) Refuse(d *Draft, path, got, want string) {
	place, column := c.find(d, path)
	if column != "" {
		if slices.Contains(d.refused, refusal{place, column}) {
			return // one fault for a cell is enough to find it by
		}
		d.refused = append(d.refused, refusal{place, column})
	}
	d.bad = true
	c.at(place, column, got, d.Table.inWords(path, want))
}

// inWords says what was wanted in the words of the files, where a service says
// it in the names of its API: "orderable" for ORDERABLE.
func (t *Table) inWords(path, want string) string {
	f := t.fieldAt(path)
	if f == nil || f.Enum() == nil {
		return want
	}
	return codes.ReplaceAllStringFunc(want, func(code string) string {
		for i := range f.Enum().Values().Len() {
			v := f.Enum().Values().Get(i)
			if word := choiceWord(f.Enum(), v.Number()); word != "" && (code == string(v.Name()) || code == strings.ToUpper(strings.ReplaceAll(word, " ", "_"))) {
				return word
			}
		}
		return code
	})
}

// codes are the names of an enum's values within a sentence.
var codes = regexp.MustCompile(`\b[A-Z][A-Z0-9_]*\b`)

// fieldAt finds the field of a path, indexes left out; nil for none.
func (t *Table) fieldAt(path string) protoreflect.FieldDescriptor {
	d := t.message.Descriptor()
	var f protoreflect.FieldDescriptor
	for name := range strings.SplitSeq(path, ".") {
		name, _, _ = strings.Cut(name, "[")
		if d == nil {
			return nil
		}
		if f = d.Fields().ByName(protoreflect.Name(name)); f == nil {
			return nil
		}
		d = f.Message()
	}
	return f
}

type refusal struct {
	place  Place
	column string
}

// find gives the place of a field of a record.
func (c *Collection) find(d *Draft, path string) (Place, string) {
	if len(d.Table.Columns) == 0 {
		return d.inDocument(path), path
	}
	if m := indexed.FindStringSubmatch(path); m != nil {
		index, _ := strconv.Atoi(m[2])
		if l := d.lineAt(m[1], index); l != nil {
			if inner := indexed.FindStringSubmatch(m[3]); inner != nil {
				index, _ := strconv.Atoi(inner[2])
				if under := d.lineUnder(l, m[1]+"."+inner[1], index); under != nil {
					return under.place, under.table.columnAt(inner[3])
				}
			}
			return l.place, l.table.columnAt(m[3])
		}
		path = m[1]
	}
	return d.place, d.Table.columnAt(path)
}

// columnAt names the column of a field; the path itself where there is none,
// and nothing for the row as a whole.
func (t *Table) columnAt(path string) string {
	path = strings.TrimRight(strings.SplitN(path, "[", 2)[0], ".")
	if path == "name" || path == "" {
		return t.Columns[0].Name
	}
	if path == "conditions" {
		return "" // what a row holds for stands in many columns together
	}
	for _, c := range t.Columns {
		if c.Path == path {
			return c.Name
		}
	}
	for _, c := range t.Columns { // "tyre" for "tyre.size"
		if strings.HasPrefix(c.Path, path+".") || strings.HasPrefix(path, c.Path+".") && c.Path != "" {
			return c.Name
		}
	}
	return path
}

// lineAt finds the line that became element index of a list of the record.
func (d *Draft) lineAt(field string, index int) *line {
	if f := d.Table.message.Descriptor().Fields().ByName(protoreflect.Name(field)); f != nil && f.IsList() {
		m := d.Table.message.New()
		decode(d.row, m)
		index -= m.Get(f).List().Len() // those named in a cell come first
	}
	for i := range d.lines {
		if d.lines[i].table.field == field {
			if index == 0 {
				return &d.lines[i]
			}
			index--
		}
	}
	return nil
}

// lineUnder finds the line that became element index of a list of a line.
func (d *Draft) lineUnder(of *line, field string, index int) *line {
	m := of.table.message.New()
	decode(of.row, m)
	for i := range d.lines {
		l := &d.lines[i]
		if l.table.field != field || m.Get(m.Descriptor().Fields().ByName(protoreflect.Name(l.table.joins))).String() != l.join {
			continue
		}
		if index == 0 {
			return l
		}
		index--
	}
	return nil
}

// inDocument gives the line of the longest part of a path that was written.
func (d *Draft) inDocument(path string) Place {
	place := d.place
	for path != "" {
		if line, ok := d.where[path]; ok {
			place.row = int32(line)
			break
		}
		i := strings.LastIndexAny(path, ".[")
		if i < 0 {
			break
		}
		path = path[:i]
	}
	return place
}
