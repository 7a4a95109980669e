package exchange

import (
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// readPack reads shims with how many of each. None written stays 0, which
// counts as 1.
func readPack(text string) ([]*schedulev1.ShimUsed, *complaint) {
	sizes, err := vehicle.ParseCounted(text)
	if err != nil {
		return nil, wanted(fault.FieldsOf("", err)[0].Want)
	}
	var out []*schedulev1.ShimUsed
	for _, s := range sizes {
		out = append(out, &schedulev1.ShimUsed{Thickness: vehiclewire.QuantityProto(s.Size), Count: int32(s.Count), Part: s.Part})
	}
	return out, nil
}

func (c *Column) fillPack(m protoreflect.Message, path fieldPath, text string) *complaint {
	shims, bad := readPack(text)
	if bad != nil {
		return bad
	}
	list := path.holder(m).Mutable(path.last()).List()
	for _, s := range shims {
		list.Append(protoreflect.ValueOfMessage(s.ProtoReflect()))
	}
	return nil
}

// packText writes shims as readPack reads them.
func packText(list protoreflect.List) string {
	var out []string
	for i := range list.Len() {
		s, ok := list.Get(i).Message().Interface().(*schedulev1.ShimUsed)
		if !ok {
			continue
		}
		size, err := vehiclewire.Quantity(s.GetThickness())
		if err != nil {
			continue // a service refuses what is no number
		}
		out = append(out, vehicle.Counted{Size: size, Count: int(s.GetCount()), Part: s.GetPart()}.String())
	}
	return plain(strings.Join(out, "; "))
}

// packParts are the parts that a cell of shims names.
func packParts(text string) []string {
	shims, _ := readPack(text)
	var out []string
	for _, s := range shims {
		if s.GetPart() != "" {
			out = append(out, s.GetPart())
		}
	}
	return out
}
