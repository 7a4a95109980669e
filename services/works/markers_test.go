package works_test

import (
	"fmt"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
	"halfshaft/services/internal/privacy"
)

// marker is a text that stands nowhere else, and the field it was put into.
type marker struct {
	text  string
	field protoreflect.FieldDescriptor
	said  *privacyv1.Personal
}

// markers makes them and remembers each.
type markers struct {
	all []marker
}

// fresh gives a text for a field: one that its checks let pass, or one that no
// check does.
func (m *markers) fresh(fd protoreflect.FieldDescriptor, valid bool) string {
	said := privacy.Of(fd)
	n := len(m.all)
	id := fmt.Sprintf("zqm%05dk", n)
	text := id + " in words"
	switch name := string(fd.Name()); {
	case !valid && (name == "email" || name == "recipients"):
		text = id + " at marker.example"
	case !valid:
		text = id + "\nsecond line \x01"
	case name == "email" || name == "recipients":
		text = id + "@marker.example"
	case name == "address":
		text = id + "@marker.example"
	case name == "phone":
		id = fmt.Sprintf("1632960%03d", n%983) // 983 ends the number that refusals give as an example
		text = "+44" + id
	case name == "time_zone":
		id, text = "Antarctica/Troll", "Antarctica/Troll"
	case name == "language" || name == "format_locale":
		id, text = "fo-FO", "fo-FO"
	case name == "distance_unit" || name == "name" || said.GetCategory() == privacyv1.Category_CATEGORY_RELATION:
		return "" // a good one is a bare identifier, which is no marker
	}
	m.all = append(m.all, marker{id, fd, said})
	return text
}

// put puts markers into every personal field of a message, and makes the
// messages that have such fields. which chooses in oneofs.
func (m *markers) put(to protoreflect.Message, valid bool, which, depth int) {
	fields := to.Descriptor().Fields()
	for i := range fields.Len() {
		fd := fields.Get(i)
		if o := fd.ContainingOneof(); o != nil && o.Fields().Get(which%o.Fields().Len()) != fd {
			continue
		}
		if privacy.Of(fd) != nil {
			m.set(to, fd, valid)
			continue
		}
		if fd.Message() == nil || fd.IsMap() || depth == 0 || !strings.HasPrefix(string(fd.Message().FullName()), "halfshaft.") || !hasPersonal(fd.Message()) {
			continue
		}
		if fd.IsList() {
			m.put(to.Mutable(fd).List().AppendMutable().Message(), valid, which, depth-1)
		} else {
			m.put(to.Mutable(fd).Message(), valid, which, depth-1)
		}
	}
}

func (m *markers) set(to protoreflect.Message, fd protoreflect.FieldDescriptor, valid bool) {
	if fd.Kind() != protoreflect.StringKind && fd.Kind() != protoreflect.BytesKind {
		return
	}
	text := m.fresh(fd, valid)
	if text == "" {
		return
	}
	value := protoreflect.ValueOfString(text)
	if fd.Kind() == protoreflect.BytesKind {
		value = protoreflect.ValueOfBytes([]byte(text))
	}
	if fd.IsList() {
		to.Mutable(fd).List().Append(value)
	} else {
		to.Set(fd, value)
	}
}

// hasPersonal reports whether a personal field stands in a type or below it.
func hasPersonal(md protoreflect.MessageDescriptor) bool {
	for d := range below(md) {
		for i := range d.Fields().Len() {
			if privacy.Of(d.Fields().Get(i)) != nil {
				return true
			}
		}
	}
	return false
}

// markedRequest is a request to a method that is full of markers.
func (m *markers) markedRequest(t *testing.T, method protoreflect.MethodDescriptor, valid bool, which int) proto.Message {
	t.Helper()
	r := message(t, method.Input())
	row := asks[string(method.Parent().FullName())][string(method.Name())]
	text := strings.NewReplacer("{serial}", "AM0147P", "{person}", "people/p0031").Replace(row.request)
	if err := prototext.Unmarshal([]byte(text), r); err != nil {
		t.Fatalf("%s: %v", method.FullName(), err)
	}
	m.put(r.ProtoReflect(), valid, which, 4)
	return r
}

// idLength is how long what begins with "zqm" is.
const idLength = len("zqm00000k")

// found gives the markers that stand in a text, those of which accepts.
func (m *markers) found(text string, which func(marker) bool) (out []marker) {
	there := map[string]bool{}
	for rest := text; ; {
		at := strings.Index(rest, "zqm")
		if at < 0 {
			break
		}
		there[rest[at:min(len(rest), at+idLength)]] = true
		rest = rest[at+1:]
	}
	for _, k := range m.all {
		ours := strings.HasPrefix(k.text, "zqm")
		if which(k) && (ours && there[k.text] || !ours && strings.Contains(text, k.text)) {
			out = append(out, k)
		}
	}
	return out
}
