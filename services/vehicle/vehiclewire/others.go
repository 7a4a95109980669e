package vehiclewire

import (
	"context"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"halfshaft/services/access"
	"halfshaft/services/vehicle"
)

// anotherVehicle stands in a sentence where the serial of another vehicle stood.
const anotherVehicle = "another vehicle"

// aRule is the field by which programs tell reasons apart. It is ours and holds no
// serial, though a word of it may look like one: "LAST_DONE".
const aRule = "halfshaft.vehicle.v1.Reason.rule"

// Alone gives an answer about one vehicle as the caller may read it: to an owner
// or a dealer, or nobody, without the serials of other vehicles, which are taken
// out in place. Units move from vehicle to vehicle, and whoever may see the one
// need not know of the other. A name of something of another vehicle becomes
// empty, and in a sentence it reads "another vehicle". Whether there is a vehicle
// of that serial does not matter: a caller may have written the text themselves,
// and would learn from it which serials there are.
//
// It takes an answer that nobody else holds: what a method keeps for the next who
// asks is copied first.
func Alone[M proto.Message](ctx context.Context, own vehicle.Serial, m M) M {
	if access.CallerFrom(ctx).Role.Limited() {
		hideIn(m.ProtoReflect(), own)
	}
	return m
}

func hideIn(m protoreflect.Message, own vehicle.Serial) {
	m.Range(func(fd protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		switch {
		case fd.IsMap():
			if fd.MapValue().Kind() == protoreflect.MessageKind {
				v.Map().Range(func(_ protoreflect.MapKey, v protoreflect.Value) bool {
					hideIn(v.Message(), own)
					return true
				})
			}
		case fd.IsList() && fd.Message() != nil:
			for i := range v.List().Len() {
				hideIn(v.List().Get(i).Message(), own)
			}
		case fd.Message() != nil:
			hideIn(v.Message(), own)
		case fd.Kind() != protoreflect.StringKind || fd.FullName() == aRule:
		case fd.IsList():
			for i := range v.List().Len() {
				v.List().Set(i, protoreflect.ValueOfString(withoutOthers(v.List().Get(i).String(), own)))
			}
		default:
			if now := withoutOthers(v.String(), own); now != v.String() {
				m.Set(fd, protoreflect.ValueOfString(now))
			}
		}
		return true
	})
}

// withoutOthers is a text without the serials of other vehicles.
func withoutOthers(text string, own vehicle.Serial) string {
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
		if s := vehicle.Serial(text[i:end]); s != own && s.Valid() {
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
