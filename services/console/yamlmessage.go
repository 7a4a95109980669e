package console

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"go.yaml.in/yaml/v3"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// readYAML reads a message as somebody writes it: the fields by their names in
// the protos, a date as 2026-11-25, a distance as 1200 mi, and of the name of an
// enumeration only what is its own: "works" for WARRANTY_GIVER_WORKS. A field
// that there is not is refused, and so is more than one document.
func readYAML(raw []byte, into proto.Message) error {
	var tree any
	d := yaml.NewDecoder(bytes.NewReader(raw))
	if err := d.Decode(&tree); err != nil {
		return fault.InvalidField("file", "", "YAML: "+err.Error())
	}
	if err := d.Decode(new(any)); !errors.Is(err, io.EOF) {
		return fault.InvalidField("file", "more than one document", "one document")
	}
	fields, ok := tree.(map[string]any)
	if !ok {
		return fault.InvalidField("file", fmt.Sprintf("%T", tree), "fields and their values")
	}
	if err := asProto(into.ProtoReflect().Descriptor(), fields, ""); err != nil {
		return err
	}
	text, err := json.Marshal(fields)
	if err != nil {
		return fault.InvalidField("file", "", "values that a message can hold: "+err.Error())
	}
	if err := protojson.Unmarshal(text, into); err != nil {
		return fault.InvalidField("file", "", "a "+string(into.ProtoReflect().Descriptor().Name())+": "+err.Error())
	}
	return nil
}

// asProto brings values to the form that JSON of a message has, in place.
func asProto(of protoreflect.MessageDescriptor, fields map[string]any, path string) error {
	for name, value := range fields {
		field := of.Fields().ByName(protoreflect.Name(name))
		if field == nil {
			return fault.InvalidField(path+name, "", "a field of "+string(of.Name()))
		}
		list, many := value.([]any)
		if !many {
			list = []any{value}
		}
		for i, one := range list {
			done, err := valueAsProto(field, one, path+name)
			if err != nil {
				return err
			}
			list[i] = done
		}
		if many {
			fields[name] = list
		} else {
			fields[name] = list[0]
		}
	}
	return nil
}

func valueAsProto(field protoreflect.FieldDescriptor, value any, path string) (any, error) {
	if stamp, ok := value.(interface{ Format(string) string }); ok { // YAML reads 2026-11-25 as a moment
		value = stamp.Format("2006-01-02")
	}
	switch {
	case field.Enum() != nil:
		return enumAsProto(field, value, path)
	case field.Message() == nil:
		return value, nil
	}
	text, isText := value.(string)
	switch field.Message().FullName() {
	case "google.type.Date":
		d, err := vehicle.ParseDate(text)
		if err != nil {
			return nil, fault.InvalidField(path, fmt.Sprint(value), "a day, as in 2026-11-25")
		}
		return map[string]any{"year": d.Year, "month": int(d.Month), "day": d.Day}, nil
	case "halfshaft.vehicle.v1.Distance":
		d, err := odometer(path, text, "")
		if err != nil || d == nil {
			return nil, fault.InvalidField(path, fmt.Sprint(value), "a distance with its unit, as in 1200 mi")
		}
		return map[string]any{"entered_value": d.GetEnteredValue(), "entered_unit": d.GetEnteredUnit()}, nil
	}
	under, ok := value.(map[string]any)
	if isText || !ok {
		return nil, fault.InvalidField(path, fmt.Sprint(value), "fields and their values")
	}
	return under, asProto(field.Message(), under, path+".")
}

// enumAsProto completes the short name of a value.
func enumAsProto(field protoreflect.FieldDescriptor, value any, path string) (any, error) {
	values := field.Enum().Values()
	prefix := strings.TrimSuffix(string(values.Get(0).Name()), "UNSPECIFIED")
	name := prefix + strings.TrimPrefix(strings.ToUpper(strings.ReplaceAll(fmt.Sprint(value), "-", "_")), prefix)
	if values.ByName(protoreflect.Name(name)) != nil {
		return name, nil
	}
	var known []string
	for i := 1; i < values.Len(); i++ {
		known = append(known, strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(string(values.Get(i).Name()), prefix), "_", "-")))
	}
	return nil, fault.InvalidField(path, fmt.Sprint(value), strings.Join(known, ", "))
}
