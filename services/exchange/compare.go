package exchange

import (
	"slices"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// Met notes a record that a service has already. When the import brings one of
// the same name the two are compared: alike, nothing is to be done; different,
// what is frozen is a fault, for a record is amended and never imported anew,
// and what is not will be replaced.
//
// Fields that a service fills, or that were decided later, are compared only
// where the import has them. What the files have no column or no table for
// stays as it is: see Collection.leave.
func (c *Collection) Met(m proto.Message) {
	c.known.add(m)
	r := m.ProtoReflect()
	d := c.byName[r.Get(r.Descriptor().Fields().ByName("name")).String()]
	if d == nil || d.Table.message.Descriptor() != r.Descriptor() {
		return
	}
	d.met = true
	c.leave(d, r)
	mine := c.Message(d).ProtoReflect()
	wrong := d.differences(mine, r, c.isLost)
	switch {
	case len(wrong) == 0:
		d.same = true
	case d.Table.frozen:
		for _, w := range wrong {
			c.Refuse(d, w.path, w.got, w.want)
		}
	default:
		d.replaces(mine, r)
	}
}

// difference is one field that reads otherwise in the record that is there.
type difference struct{ path, got, want string }

// differences compares a record with that which is there, without the tables of
// lines of which some could not be read.
func (d *Draft) differences(mine, theirs protoreflect.Message, linesLost func(*Table) bool) []difference {
	if len(d.Table.Columns) == 0 {
		return documentDifferences(mine, theirs)
	}
	var out []difference
	if w, ok := mine.Interface().(interface{ GetWithdrawn() bool }); ok && w.GetWithdrawn() {
		out = append(out, difference{withdrawn.Path, "yes", ""})
	}
	for i := range d.Table.Columns {
		c := &d.Table.Columns[i]
		if c.Path == "" || c.Alone {
			continue
		}
		got, want := c.text(mine, d.Table.ordered[i]), c.text(theirs, d.Table.ordered[i])
		if got != want && !(c.Given && got == "") {
			out = append(out, difference{c.Path, got, instead(want)})
		}
	}
	for _, t := range Tables() {
		if t.parent == d.Table.Name && t.joins == "" && !linesLost(t) {
			out = append(out, lineDifferences(t, mine, theirs)...)
		}
	}
	return out
}

// instead words what a frozen record says.
func instead(recorded string) string {
	if recorded == "" {
		recorded = "nothing"
	}
	return recorded + ", as recorded: amend the record instead"
}

// lineDifferences compares the lines of a record, in whatever order they
// stand.
func lineDifferences(t *Table, mine, theirs protoreflect.Message) []difference {
	f := mine.Descriptor().Fields().ByName(protoreflect.Name(t.field))
	recorded := map[string]int{}
	for i := range theirs.Get(f).List().Len() {
		recorded[t.lineText(theirs.Get(f).List().Get(i).Message())]++
	}
	var out []difference
	for i := range mine.Get(f).List().Len() {
		text := t.lineText(mine.Get(f).List().Get(i).Message())
		if recorded[text]--; recorded[text] < 0 {
			out = append(out, difference{at(t.field, i), text, "a line as recorded: amend the record instead"})
		}
	}
	var missing []string
	for text, n := range recorded {
		if n > 0 {
			missing = append(missing, text)
		}
	}
	slices.Sort(missing)
	for _, text := range missing {
		out = append(out, difference{t.field, "", "in the table " + t.Name + " " + instead(text)})
	}
	return out
}

// lineText writes a line, and the lines under it, for comparison.
func (t *Table) lineText(m protoreflect.Message) string {
	text := ""
	for i := range t.Columns {
		if t.Columns[i].Path != "" {
			if s := t.Columns[i].text(m, t.ordered[i]); s != "" {
				if text != "" {
					text += ", "
				}
				text += s
			}
		}
	}
	for _, under := range Tables() {
		outer, inner, nested := cutField(under.field)
		if under.parent != t.parent || !nested || outer != t.field {
			continue
		}
		list := m.Get(m.Descriptor().Fields().ByName(protoreflect.Name(inner))).List()
		for i := range list.Len() {
			text += "; " + under.lineText(list.Get(i).Message())
		}
	}
	return text
}

// replaces notes what the record takes the place of, and takes over from it
// what the import does not say.
func (d *Draft) replaces(mine, theirs protoreflect.Message) {
	d.etag = theirs.Get(theirs.Descriptor().Fields().ByName("etag")).String()
	m := d.Table.message.New()
	decode(d.row, m)
	for i := range d.Table.Columns {
		c := &d.Table.Columns[i]
		if v, set := d.Table.ordered[i].valueOf(c, theirs); set && c.text(mine, d.Table.ordered[i]) == "" {
			d.Table.ordered[i].holder(m).Set(d.Table.ordered[i].last(), v)
		}
	}
	d.row = encode(m)
}

// valueOf gives the value of a column that the service fills.
func (p fieldPath) valueOf(c *Column, m protoreflect.Message) (protoreflect.Value, bool) {
	if !c.Given || len(p) == 0 {
		return protoreflect.Value{}, false
	}
	return p.get(m)
}

// documentDifferences compares two documents scalar by scalar.
func documentDifferences(mine, theirs protoreflect.Message) []difference {
	got, want := map[string]string{}, map[string]string{}
	flatten(TreeOf(mine), "", got)
	flatten(TreeOf(theirs), "", want)
	for _, made := range []string{"create_time", "recorded_by", "issued_by"} { // which the service fills in
		if got[made] == "" {
			delete(want, made)
		}
	}
	var out []difference
	for path, text := range got {
		if want[path] != text {
			out = append(out, difference{path, text, instead(want[path])})
		}
	}
	for path, text := range want {
		if _, ok := got[path]; !ok {
			out = append(out, difference{path, "", instead(text)})
		}
	}
	return out
}

func flatten(t *Tree, path string, into map[string]string) {
	switch t.Form {
	case Scalar:
		into[path] = t.Text
	case Map:
		for i, key := range t.Keys {
			flatten(t.Items[i], join(path, key.Text), into)
		}
	case List:
		for i, item := range t.Items {
			flatten(item, at(path, i), into)
		}
	}
}
