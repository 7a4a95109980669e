package exchange

import (
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// Row is one row of an export, in the columns of Table.Header.
type Row struct {
	Table *Table
	Cells []string
}

// TableOf finds the table whose rows are messages of this type; nil for what
// is exported as a document.
func TableOf(m proto.Message) *Table {
	for _, t := range Tables() {
		if !t.IsLine() && t.message.Descriptor() == m.ProtoReflect().Descriptor() {
			return t
		}
	}
	return nil
}

// Rows writes a record as rows: its own first, then its lines in their tables.
// Reading them gives the record again.
func (t *Table) Rows(record proto.Message) []Row {
	m := record.ProtoReflect()
	keys := t.keys(m.Get(m.Descriptor().Fields().ByName("name")).String())
	rows := []Row{t.row(m, keys)}
	for _, lines := range Tables() {
		if lines.parent != t.Name {
			continue
		}
		outer, inner, nested := cutField(lines.field)
		list := m.Get(m.Descriptor().Fields().ByName(protoreflect.Name(outer))).List()
		for i := range list.Len() {
			element := list.Get(i).Message()
			if !nested {
				rows = append(rows, lines.row(element, keys))
				continue
			}
			keys["line"] = element.Get(element.Descriptor().Fields().ByName(protoreflect.Name(lines.joins))).String()
			under := element.Get(element.Descriptor().Fields().ByName(protoreflect.Name(inner))).List()
			for j := range under.Len() {
				rows = append(rows, lines.row(under.Get(j).Message(), keys))
			}
		}
	}
	return rows
}

// keys reads the parts of a resource name by the table's pattern.
func (t *Table) keys(name string) map[string]string {
	keys := map[string]string{}
	got := strings.Split(name, "/")
	for i, want := range strings.Split(t.pattern, "/") {
		if strings.HasPrefix(want, "{") && i < len(got) {
			keys[strings.Trim(want, "{}")] = got[i]
		}
	}
	return keys
}

// row writes one message. Numbers are never escaped: a minus sign in front of
// one is no formula.
func (t *Table) row(m protoreflect.Message, keys map[string]string) Row {
	var cells []string
	for _, i := range t.written() {
		c := &t.Columns[i]
		text := keys[c.Key]
		if c.Key == "" {
			text = c.text(m, t.ordered[i])
		}
		switch c.Kind {
		case Whole, Number, Measure, Distance, Date, Stamp, Flag, Serial:
		default:
			text = escape(text)
		}
		cells = append(cells, text)
	}
	return Row{t, cells}
}
