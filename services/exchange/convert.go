package exchange

import (
	"strconv"
	"strings"
	"time"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// fill reads the text of one cell, which is not empty, into the column's field
// of m. unit is the unit that a column of its own, or the header, gives.
func (c *Column) fill(m protoreflect.Message, path fieldPath, text, unit string) *complaint {
	if c.Kind == Kit {
		return c.fillKit(m, path, text)
	}
	if c.Kind == Pack {
		return c.fillPack(m, path, text)
	}
	if path.last().IsList() {
		return c.fillList(m, path, text)
	}
	v, bad := c.value(path.last(), text, unit)
	if bad != nil || c.Kind == Flag && !v.Bool() {
		return bad // a bare "no" makes no dial where there is none
	}
	path.holder(m).Set(path.last(), v)
	return nil
}

// value reads the text of one cell as a single value.
func (c *Column) value(f protoreflect.FieldDescriptor, text, unit string) (protoreflect.Value, *complaint) {
	switch c.Kind {
	case Date:
		d, bad := readDate(text)
		return message(vehiclewire.DateProto(d)), bad
	case Stamp:
		t, bad := readStamp(text)
		return message(timestamppb.New(t)), bad
	case Whole, Signed:
		return wholeValue(f, text, c.Kind == Signed)
	case Number:
		d, bad := readNumber(text)
		return protoreflect.ValueOfString(d.String()), bad
	case Measure:
		q, bad := readMeasure(text, unit)
		return message(&vehiclev1.Quantity{Value: q.Value.String(), Unit: q.Unit}), bad
	case Distance:
		d, bad := readDistance(text, unit)
		return message(d.proto()), bad
	case Flag:
		b, bad := readFlag(text)
		return protoreflect.ValueOfBool(b), bad
	case Choice:
		n, bad := readChoice(f.Enum(), text)
		return protoreflect.ValueOfEnum(n), bad
	}
	return protoreflect.ValueOfString(c.full(text)), nil
}

// wholeValue reads a whole number for a field of 32 or 64 bits.
func wholeValue(f protoreflect.FieldDescriptor, text string, signed bool) (protoreflect.Value, *complaint) {
	if f.Kind() == protoreflect.Int64Kind {
		n, bad := readWhole(text, 64, signed)
		return protoreflect.ValueOfInt64(n), bad
	}
	n, bad := readWhole(text, 32, signed)
	return protoreflect.ValueOfInt32(int32(n)), bad
}

// full puts the column's prefix before a text that lacks it.
func (c *Column) full(text string) string {
	if c.Prefix == "" || strings.HasPrefix(text, c.Prefix) {
		return text
	}
	return c.Prefix + text
}

func message(m proto.Message) protoreflect.Value {
	return protoreflect.ValueOfMessage(m.ProtoReflect())
}

func (d distance) proto() *vehiclev1.Distance {
	if d.entered.IsZero() {
		return &vehiclev1.Distance{Millimetres: d.mm}
	}
	return vehiclewire.EnteredProto(d.entered)
}

func (c *Column) fillList(m protoreflect.Message, path fieldPath, text string) *complaint {
	parts := splitLines(text)
	if c.Kind == Words || c.Kind == Choices {
		parts = splitWords(text)
	}
	if len(parts) == 0 {
		return nil
	}
	list := path.holder(m).Mutable(path.last()).List()
	for _, part := range parts {
		if path.last().Kind() == protoreflect.MessageKind { // a record's lines named in a cell
			line := list.NewElement().Message()
			line.Set(line.Descriptor().Fields().ByNumber(1), protoreflect.ValueOfString(part))
			list.Append(protoreflect.ValueOfMessage(line))
			continue
		}
		if c.Kind == Choices {
			n, bad := readChoice(path.last().Enum(), part)
			if bad != nil {
				return bad
			}
			list.Append(protoreflect.ValueOfEnum(n))
			continue
		}
		list.Append(protoreflect.ValueOfString(c.full(part)))
	}
	return nil
}

func (c *Column) fillKit(m protoreflect.Message, path fieldPath, text string) *complaint {
	lines, bad := readKit(text)
	if bad != nil {
		return bad
	}
	list := path.holder(m).Mutable(path.last()).List()
	for _, l := range lines {
		line := list.NewElement().Message()
		fields := line.Descriptor().Fields()
		line.Set(fields.ByName("part"), protoreflect.ValueOfString("parts/"+l.part))
		line.Set(fields.ByName("quantity"), protoreflect.ValueOfInt32(l.quantity))
		list.Append(protoreflect.ValueOfMessage(line))
	}
	return nil
}

// readChoice finds the value of an enum by its word.
func readChoice(e protoreflect.EnumDescriptor, text string) (protoreflect.EnumNumber, *complaint) {
	words := choices(e)
	sought := squeeze(text)
	for i, word := range words {
		if squeeze(word) == sought {
			return e.Values().Get(i + 1).Number(), nil
		}
	}
	return 0, wanted("one of: " + strings.Join(words, ", "))
}

// choices gives the words of an enum's values but the first, which means that
// nothing was said: "original retained" for FINISH_ORIGINAL_RETAINED.
func choices(e protoreflect.EnumDescriptor) []string {
	var out []string
	for i := 1; i < e.Values().Len(); i++ {
		out = append(out, choiceWord(e, e.Values().Get(i).Number()))
	}
	return out
}

// choiceWord gives the word of a value, empty for the first.
func choiceWord(e protoreflect.EnumDescriptor, n protoreflect.EnumNumber) string {
	value := e.Values().ByNumber(n)
	if n == 0 || value == nil {
		return ""
	}
	first := string(e.Values().Get(0).Name())
	prefix := strings.TrimSuffix(first, "UNSPECIFIED")
	return strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(string(value.Name()), prefix), "_", " "))
}

// text writes the column's field of m as a cell, not yet escaped; empty when
// the field is not set.
func (c *Column) text(m protoreflect.Message, path fieldPath) string {
	v, set := path.get(m)
	if !set {
		if c.Kind == Flag && path.held(m) {
			return "no"
		}
		return ""
	}
	if c.Kind == Words || c.Kind == Choices || c.Kind == Lines || c.Kind == Kit {
		return c.listText(v.List(), path.last())
	}
	switch c.Kind {
	case Pack:
		return packText(v.List())
	case Whole, Signed:
		return strconv.FormatInt(v.Int(), 10)
	case Flag:
		return "yes"
	case Choice:
		return choiceWord(path.last().Enum(), v.Enum())
	case Date, Stamp, Measure, Distance:
		return c.scalarText(v)
	}
	return plain(strings.TrimPrefix(v.String(), c.Prefix))
}

// scalarText writes a message that is one value to people.
func (c *Column) scalarText(v protoreflect.Value) string {
	switch m := v.Message().Interface().(type) {
	case *date.Date:
		return vehicle.Date{Year: int(m.GetYear()), Month: time.Month(m.GetMonth()), Day: int(m.GetDay())}.String()
	case *timestamppb.Timestamp:
		return m.AsTime().Format(time.RFC3339Nano)
	case *vehiclev1.Quantity:
		return strings.TrimSpace(plain(m.GetValue() + " " + m.GetUnit()))
	case *vehiclev1.Distance:
		return distanceText(m)
	}
	return ""
}

func distanceText(d *vehiclev1.Distance) string {
	if d.GetEnteredUnit() == "" {
		return strconv.FormatInt(d.GetMillimetres(), 10) + " mm"
	}
	return plain(d.GetEnteredValue() + " " + d.GetEnteredUnit())
}

func (c *Column) listText(list protoreflect.List, f protoreflect.FieldDescriptor) string {
	var out []string
	for i := range list.Len() {
		switch {
		case c.Kind == Kit:
			line := list.Get(i).Message()
			fields := line.Descriptor().Fields()
			out = append(out, strings.TrimPrefix(line.Get(fields.ByName("part")).String(), "parts/")+
				" x"+strconv.FormatInt(max(line.Get(fields.ByName("quantity")).Int(), 1), 10))
		case f.Kind() == protoreflect.MessageKind:
			line := list.Get(i).Message()
			out = append(out, line.Get(line.Descriptor().Fields().ByNumber(1)).String())
		case c.Kind == Choices:
			out = append(out, choiceWord(f.Enum(), list.Get(i).Enum()))
		default:
			out = append(out, strings.TrimPrefix(list.Get(i).String(), c.Prefix))
		}
	}
	if c.Kind == Lines {
		return joinLines(out)
	}
	return plain(strings.Join(trimmed(out), "; "))
}
