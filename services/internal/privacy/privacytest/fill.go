// Package privacytest fills messages, so that tests can see what becomes of
// each of their fields.
package privacytest

import (
	"google.golang.org/protobuf/reflect/protoreflect"
)

// Depth is how many messages deep Fill goes: types may hold themselves.
const Depth = 6

// Fill sets every field of a message and of those below it: text gives each
// string and each bytes field its value, numbers are 1, enums their first
// value but the one for "not said". Of a oneof the last field stays; which
// gives the choice to the caller where it returns true for one.
func Fill(m protoreflect.Message, text func(protoreflect.FieldDescriptor) string, choose func(protoreflect.FieldDescriptor) bool) {
	fill(m, text, choose, Depth)
}

func fill(m protoreflect.Message, text func(protoreflect.FieldDescriptor) string, choose func(protoreflect.FieldDescriptor) bool, depth int) {
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		fd := fields.Get(i)
		if fd.ContainingOneof() != nil && !choose(fd) {
			continue
		}
		switch {
		case fd.IsMap():
			entries := m.Mutable(fd).Map()
			value := entries.NewValue()
			if fd.MapValue().Message() != nil {
				if depth == 0 {
					continue
				}
				fill(value.Message(), text, choose, depth-1)
			} else {
				value = scalar(fd.MapValue(), text)
			}
			entries.Set(scalar(fd.MapKey(), text).MapKey(), value)
		case fd.IsList():
			list := m.Mutable(fd).List()
			if fd.Message() == nil {
				list.Append(scalar(fd, text))
				continue
			}
			if depth > 0 {
				fill(list.AppendMutable().Message(), text, choose, depth-1)
			}
		case fd.Message() != nil:
			if depth > 0 {
				fill(m.Mutable(fd).Message(), text, choose, depth-1)
			}
		default:
			m.Set(fd, scalar(fd, text))
		}
	}
}

// scalar gives a value of a field's kind.
func scalar(fd protoreflect.FieldDescriptor, text func(protoreflect.FieldDescriptor) string) protoreflect.Value {
	switch fd.Kind() {
	case protoreflect.StringKind:
		return protoreflect.ValueOfString(text(fd))
	case protoreflect.BytesKind:
		return protoreflect.ValueOfBytes([]byte(text(fd)))
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(true)
	case protoreflect.EnumKind:
		return protoreflect.ValueOfEnum(fd.Enum().Values().Get(min(1, fd.Enum().Values().Len()-1)).Number())
	case protoreflect.Int32Kind, protoreflect.Sint32Kind, protoreflect.Sfixed32Kind:
		return protoreflect.ValueOfInt32(1)
	case protoreflect.Uint32Kind, protoreflect.Fixed32Kind:
		return protoreflect.ValueOfUint32(1)
	case protoreflect.Uint64Kind, protoreflect.Fixed64Kind:
		return protoreflect.ValueOfUint64(1)
	case protoreflect.FloatKind:
		return protoreflect.ValueOfFloat32(1)
	case protoreflect.DoubleKind:
		return protoreflect.ValueOfFloat64(1)
	}
	return protoreflect.ValueOfInt64(1)
}

// Walk calls each for every field that is set in a message and below it.
func Walk(m protoreflect.Message, each func(m protoreflect.Message, fd protoreflect.FieldDescriptor, v protoreflect.Value)) {
	m.Range(func(fd protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		each(m, fd, v)
		switch {
		case fd.IsMap() && fd.MapValue().Message() != nil:
			v.Map().Range(func(_ protoreflect.MapKey, v protoreflect.Value) bool {
				Walk(v.Message(), each)
				return true
			})
		case fd.IsMap() || fd.Message() == nil:
		case fd.IsList():
			for i := range v.List().Len() {
				Walk(v.List().Get(i).Message(), each)
			}
		default:
			Walk(v.Message(), each)
		}
		return true
	})
}
