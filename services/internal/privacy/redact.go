package privacy

import (
	"regexp"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
	"halfshaft/services/fault"
)

// Redact gives the fields of a refusal without what they repeat of personal
// fields of the request: of those it says only that they are not repeated.
// Names of fields are proto paths, "person.email", "people[3].phone". A path
// that leads nowhere, in a message that holds something personal, may mean
// that and is not repeated either; nor is a value of a personal field that
// came to stand in what another field got.
func Redact(request proto.Message, fields []fault.Field) []fault.Field {
	if len(fields) == 0 || request == nil {
		return fields
	}
	m := request.ProtoReflect()
	if !holdsPersonal(m.Descriptor()) {
		return fields
	}
	values := personalTexts(m)
	out := make([]fault.Field, len(fields))
	for i, f := range fields {
		switch said, personal := find(m.Descriptor(), f.Name); {
		case personal:
			out[i] = fault.Field{Name: without(f.Name, values), Got: unrepeated(said, f.Got), Want: without(f.Want, append(values, f.Got))}
		case quotes(f.Got, values) || quotes(f.Want, values) || quotes(f.Name, values):
			out[i] = fault.Field{Name: without(f.Name, values), Got: unrepeated(nil, f.Got), Want: without(f.Want, values)}
		default:
			out[i] = f
		}
	}
	return out
}

// described is how a check that minds what it repeats says itself what it got.
var described = regexp.MustCompile(`^[\d,]+ (characters?|bytes)$`)

// unrepeated says of what was got only how long it is, and not even that of a
// secret. That there was nothing tells nothing.
func unrepeated(said *privacyv1.Personal, got string) string {
	switch {
	case got == "" || described.MatchString(got):
		return got
	case said.GetCategory() == privacyv1.Category_CATEGORY_SECRET:
		return fault.NotRepeated + ")"
	}
	return fault.NotRepeated + ": " + fault.Length(got) + ")"
}

// find says whether a path leads to a personal field, or may.
func find(md protoreflect.MessageDescriptor, path string) (said *privacyv1.Personal, personal bool) {
	for path != "" {
		var name string
		name, path = step(path)
		fd := md.Fields().ByName(protoreflect.Name(name))
		if fd == nil {
			return nil, holdsPersonal(md)
		}
		if said := Of(fd); said != nil {
			return said, true
		}
		inner := messageOf(fd)
		if inner == nil {
			return nil, false // what follows is within a value that is not personal
		}
		md = inner
	}
	return nil, false
}

// step takes the first name off a path, with the index or key behind it: a key
// may hold any sign but a closing bracket.
func step(path string) (name, rest string) {
	end := strings.IndexAny(path, ".[")
	if end < 0 {
		return path, ""
	}
	name, rest = path[:end], path[end:]
	for strings.HasPrefix(rest, "[") {
		end := strings.IndexByte(rest, ']')
		if end < 0 {
			return name, ""
		}
		rest = rest[end+1:]
	}
	return name, strings.TrimPrefix(rest, ".")
}

// quotable is the shortest text of a personal field that is looked for in what
// other fields say, in bytes; a shorter one, as "en-GB" or "mi", would be found
// where nobody was quoted.
const quotable = 6

// personalTexts gives what stands in the personal fields of a message.
func personalTexts(m protoreflect.Message) (out []string) {
	p := planOf(m.Descriptor())
	m.Range(func(fd protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		if p.personal[fd.Number()] != nil {
			out = append(out, texts(fd, v)...)
		}
		return true
	})
	for _, fd := range p.below {
		if m.Has(fd) {
			eachMessage(fd, m.Get(fd), func(inner protoreflect.Message) { out = append(out, personalTexts(inner)...) })
		}
	}
	return out
}

// texts gives the texts of a field, one or a list of them.
func texts(fd protoreflect.FieldDescriptor, v protoreflect.Value) []string {
	if fd.Kind() != protoreflect.StringKind || fd.IsMap() {
		return nil
	}
	if !fd.IsList() {
		return []string{v.String()}
	}
	var out []string
	for i := range v.List().Len() {
		out = append(out, v.List().Get(i).String())
	}
	return out
}

func quotes(text string, values []string) bool {
	for _, v := range values {
		if len(v) >= quotable && strings.Contains(text, v) {
			return true
		}
	}
	return false
}

// without puts an ellipsis where a text repeats one of the values.
func without(text string, values []string) string {
	for _, v := range values {
		if len(v) >= quotable {
			text = strings.ReplaceAll(text, v, "…")
		}
	}
	return text
}
