package exchange

import (
	"strconv"
	"strings"
	"unicode/utf8"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// treeReader fills a message from a document. Keys are the names of fields;
// dates, distances, quantities and moments are written as in a table.
type treeReader struct {
	collection *Collection
	place      Place
	where      map[string]int
	bad        bool
}

func (r *treeReader) refuse(t *Tree, path, got, want string) {
	r.bad = true
	p := r.place
	p.row = int32(t.Line)
	r.collection.at(p, path, got, want)
}

func (r *treeReader) fill(m protoreflect.Message, t *Tree, path string) {
	if t.Form != Map {
		r.refuse(t, path, t.Text, "keys and values")
		return
	}
	fields := m.Descriptor().Fields()
	seen := map[string]bool{}
	for i, key := range t.Keys {
		name := strings.ReplaceAll(key.Text, " ", "_")
		under := join(path, name)
		r.where[under] = key.Line
		f := fields.ByName(protoreflect.Name(name))
		switch {
		case f == nil || computed(f) || key.Form != Scalar:
			r.refuse(key, under, key.Text, "one of the keys: "+strings.Join(keysOf(m.Descriptor()), ", "))
		case seen[name]:
			r.refuse(key, under, key.Text, "each key once")
		case other(m, f) != "":
			r.refuse(key, under, key.Text, "nothing beside "+other(m, f)+": only one of them can be said")
		default:
			r.field(m, f, t.Items[i], under)
		}
		seen[name] = true
	}
}

// other gives the key that was read before and is said instead of f, where only
// one of several can be.
func other(m protoreflect.Message, f protoreflect.FieldDescriptor) string {
	if f.ContainingOneof() == nil {
		return ""
	}
	if first := m.WhichOneof(f.ContainingOneof()); first != nil {
		return string(first.Name())
	}
	return ""
}

func join(path, name string) string {
	if path == "" {
		return name
	}
	return path + "." + name
}

func at(path string, i int) string { return path + "[" + strconv.Itoa(i) + "]" }

func (r *treeReader) field(m protoreflect.Message, f protoreflect.FieldDescriptor, t *Tree, path string) {
	switch {
	case t.Form == Nothing:
	case f.IsList():
		r.list(m.Mutable(f).List(), f, t, path)
	default:
		if v, ok := r.value(m.NewField(f), f, t, path); ok {
			m.Set(f, v)
		}
	}
}

func (r *treeReader) list(list protoreflect.List, f protoreflect.FieldDescriptor, t *Tree, path string) {
	if t.Form != List {
		r.refuse(t, path, t.Text, "a list")
		return
	}
	for i, item := range t.Items {
		under := at(path, i)
		r.where[under] = item.Line
		if v, ok := r.value(list.NewElement(), f, item, under); ok {
			list.Append(v)
		}
	}
}

// value reads one value; empty is a new one of the field's type.
func (r *treeReader) value(empty protoreflect.Value, f protoreflect.FieldDescriptor, t *Tree, path string) (protoreflect.Value, bool) {
	column := columnOf(f)
	if column == nil {
		r.fill(empty.Message(), t, path)
		return empty, true
	}
	if t.Form != Scalar {
		r.refuse(t, path, "", "a single value")
		return empty, false
	}
	text, bad := readText(t.Text)
	if bad == nil && column.Kind == Text {
		return protoreflect.ValueOfString(column.full(text)), true
	}
	var v protoreflect.Value
	if bad == nil {
		v, bad = column.value(f, strings.TrimSpace(text), "")
	}
	if bad != nil {
		r.refuse(t, path, t.Text, bad.want)
		return empty, false
	}
	return v, true
}

// columnOf says how a value of a field is written; nil for a message of keys.
func columnOf(f protoreflect.FieldDescriptor) *Column {
	switch f.Kind() {
	case protoreflect.BoolKind:
		return &Column{Kind: Flag}
	case protoreflect.EnumKind:
		return &Column{Kind: Choice}
	case protoreflect.Int32Kind, protoreflect.Int64Kind:
		if signed[f.FullName()] {
			return &Column{Kind: Signed}
		}
		return &Column{Kind: Whole}
	case protoreflect.StringKind:
		return &Column{Kind: Text, Prefix: prefixes[f.FullName()]}
	}
	switch f.Message().FullName() {
	case "google.type.Date":
		return &Column{Kind: Date}
	case "google.protobuf.Timestamp":
		return &Column{Kind: Stamp}
	case "halfshaft.vehicle.v1.Quantity":
		return &Column{Kind: Measure}
	case "halfshaft.vehicle.v1.Distance":
		return &Column{Kind: Distance}
	}
	return nil
}

// prefixes are what stands before an identifier in a field that holds a
// resource name; a document may leave it out.
var prefixes = map[protoreflect.FullName]string{
	"halfshaft.build.v1.Release.programme": "programmes/",
	"halfshaft.build.v1.Build.release":     "releases/",
}

// signed are the numbers that may lie below 0.
var signed = map[protoreflect.FullName]bool{"halfshaft.bulletin.v1.FollowUpPlan.repeat_days": true}

// computed says whether a field is never exchanged: it follows from the rest,
// or has a meaning only in the store that it comes from.
func computed(f protoreflect.FieldDescriptor) bool {
	return f.Name() == "etag" || follows[f.FullName()]
}

// follows are the fields of documents that are worked out from the others
// whenever the record is read, or are of one store.
var follows = func() map[protoreflect.FullName]bool {
	all := map[protoreflect.FullName]bool{
		"halfshaft.warranty.v1.Claim.totals":         true,
		"halfshaft.warranty.v1.Claim.answer_by_date": true,
	}
	for _, name := range []protoreflect.Name{
		"title", "state", "no_longer_meets", "round", "stop_use", "hold_delivery", "reinspect_by_date", "reinspect_at_distance", "sentence",
		"letter_dates", "letter", "since_date", "notified_date", "booked_date", "import_time",
	} {
		all[protoreflect.FullName("halfshaft.bulletin.v1.FollowUp").Append(name)] = true
	}
	return all
}()

func keysOf(d protoreflect.MessageDescriptor) []string {
	var out []string
	for i := range d.Fields().Len() {
		if f := d.Fields().Get(i); !computed(f) {
			out = append(out, string(f.Name()))
		}
	}
	return out
}

// TreeOf gives a message as a document, its keys in the order of the message.
func TreeOf(m protoreflect.Message) *Tree {
	t := &Tree{Form: Map}
	for i := range m.Descriptor().Fields().Len() {
		f := m.Descriptor().Fields().Get(i)
		if !m.Has(f) || computed(f) {
			continue
		}
		t.Keys = append(t.Keys, &Tree{Form: Scalar, Text: string(f.Name()), Plain: true})
		if !f.IsList() {
			t.Items = append(t.Items, treeOfValue(m.Get(f), f))
			continue
		}
		list := &Tree{Form: List}
		for j := range m.Get(f).List().Len() {
			list.Items = append(list.Items, treeOfValue(m.Get(f).List().Get(j), f))
		}
		t.Items = append(t.Items, list)
	}
	return t
}

func treeOfValue(v protoreflect.Value, f protoreflect.FieldDescriptor) *Tree {
	column := columnOf(f)
	if column == nil {
		return TreeOf(v.Message())
	}
	t := &Tree{Form: Scalar}
	switch column.Kind {
	case Text:
		t.Text = plain(v.String())
		if !utf8.ValidString(t.Text) {
			t.Text = strings.ToValidUTF8(t.Text, "\ufffd")
		}
	case Flag:
		t.Text, t.Plain = strconv.FormatBool(v.Bool()), true
	case Choice:
		t.Text = choiceWord(f.Enum(), v.Enum())
	case Whole, Signed:
		t.Text, t.Plain = strconv.FormatInt(v.Int(), 10), true
	default:
		t.Text = column.scalarText(v)
		t.Plain = column.Kind == Date || column.Kind == Stamp
	}
	return t
}
