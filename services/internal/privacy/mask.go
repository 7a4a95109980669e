package privacy

import (
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// MaskForDealer takes out of an answer every personal field that is not said
// to be for dealers, at any depth. It changes the message in place.
func MaskForDealer(m proto.Message) {
	if m == nil {
		return
	}
	mask(m.ProtoReflect())
}

func mask(m protoreflect.Message) {
	if !m.IsValid() {
		return
	}
	p := planOf(m.Descriptor())
	for _, fd := range p.hidden {
		if m.Has(fd) {
			m.Clear(fd)
		}
	}
	for _, fd := range p.masked {
		if m.Has(fd) {
			eachMessage(fd, m.Get(fd), mask)
		}
	}
}

// eachMessage calls do for each message that a field holds.
func eachMessage(fd protoreflect.FieldDescriptor, v protoreflect.Value, do func(protoreflect.Message)) {
	switch {
	case fd.IsMap():
		v.Map().Range(func(_ protoreflect.MapKey, v protoreflect.Value) bool {
			do(v.Message())
			return true
		})
	case fd.IsList():
		for i := range v.List().Len() {
			do(v.List().Get(i).Message())
		}
	default:
		do(v.Message())
	}
}
