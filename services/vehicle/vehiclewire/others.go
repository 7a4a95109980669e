package vehiclewire

import (
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"halfshaft/services/vehicle"
)

// anotherVehicle stands in a sentence where the serial of another vehicle stood.
const anotherVehicle = "another vehicle"

// HideOthers takes the serials of other vehicles out of an answer about one, in
// place: units move from vehicle to vehicle, and whoever may see the one need
// not know of the other. A name of something of another vehicle becomes empty,
// and in a sentence it reads "another vehicle". Whether there is a vehicle of
// that serial does not matter: a caller may have written the text themselves,
// and would learn from it which serials there are.
func HideOthers(m proto.Message, own vehicle.Serial) {
	hideIn(m.ProtoReflect(), func(s vehicle.Serial) bool { return s != own })
}

func hideIn(m protoreflect.Message, other func(vehicle.Serial) bool) {
	m.Range(func(fd protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		switch {
		case fd.IsMap():
			if fd.MapValue().Kind() == protoreflect.MessageKind {
				v.Map().Range(func(_ protoreflect.MapKey, v protoreflect.Value) bool {
					hideIn(v.Message(), other)
					return true
				})
			}
		case fd.IsList() && fd.Message() != nil:
			for i := range v.List().Len() {
				hideIn(v.List().Get(i).Message(), other)
			}
		case fd.Message() != nil:
			hideIn(v.Message(), other)
		case fd.Kind() != protoreflect.StringKind:
		case fd.IsList():
			for i := range v.List().Len() {
				v.List().Set(i, protoreflect.ValueOfString(withoutOthers(v.List().Get(i).String(), other)))
			}
		default:
			if now := withoutOthers(v.String(), other); now != v.String() {
				m.Set(fd, protoreflect.ValueOfString(now))
			}
		}
		return true
	})
}

// withoutOthers is a text without the serials of other vehicles.
func withoutOthers(text string, other func(vehicle.Serial) bool) string {
	var b strings.Builder
	kept := 0 // up to here it is written
	for i := 0; i < len(text); {
		if !inSerial(text[i]) {
			i++
			continue
		}
		end := i
		for end < len(text) && inSerial(text[end]) {
			end++
		}
		if s := vehicle.Serial(text[i:end]); s.Valid() && other(s) {
			if head := text[:i]; (head == "vehicles/" || head == "builds/") && !strings.Contains(text, " ") {
				return "" // the name of that vehicle, or of a thing of it
			}
			before := strings.TrimSuffix(strings.TrimSuffix(text[kept:i], "vehicles/"), "builds/")
			b.WriteString(before + anotherVehicle)
			kept = end
		}
		i = end
	}
	if kept == 0 {
		return text
	}
	b.WriteString(text[kept:])
	return b.String()
}

// inSerial reports whether a serial can hold a character.
func inSerial(c byte) bool { return c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' }
