package exchange

import (
	"fmt"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// fieldPath leads from a message to one of its fields.
type fieldPath []protoreflect.FieldDescriptor

// mustPath looks up "tyre.size" in a message.
func mustPath(d protoreflect.MessageDescriptor, path string) fieldPath {
	var out fieldPath
	for name := range strings.SplitSeq(path, ".") {
		f := d.Fields().ByName(protoreflect.Name(name))
		if f == nil {
			panic(fmt.Sprintf("exchange: %s has no field %s", d.FullName(), name))
		}
		out = append(out, f)
		d = f.Message()
	}
	return out
}

// last is the field that the path ends in.
func (p fieldPath) last() protoreflect.FieldDescriptor { return p[len(p)-1] }

// holder gives the message that has the last field, making those between.
func (p fieldPath) holder(m protoreflect.Message) protoreflect.Message {
	for _, f := range p[:len(p)-1] {
		m = m.Mutable(f).Message()
	}
	return m
}

// get gives the value, or false when it is not set.
func (p fieldPath) get(m protoreflect.Message) (protoreflect.Value, bool) {
	for _, f := range p[:len(p)-1] {
		if !m.Has(f) {
			return protoreflect.Value{}, false
		}
		m = m.Get(f).Message()
	}
	if !m.Has(p.last()) {
		return protoreflect.Value{}, false
	}
	return m.Get(p.last()), true
}

// held says whether the message that has the last field is there.
func (p fieldPath) held(m protoreflect.Message) bool {
	if len(p) == 1 {
		return true
	}
	_, set := p[:len(p)-1].get(m)
	return set
}
