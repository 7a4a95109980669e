package console

import (
	"encoding/json"
	"os"
	"strings"

	"go.yaml.in/yaml/v3"
	"google.golang.org/protobuf/encoding/protojson"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// readBulletin reads a draft from a YAML file with the fields of the API by
// their names, and what people write more shortly: "campaign" for a kind,
// "2026-03-09" for a day, "500 mi" for a distance.
func readBulletin(path string) (*bulletinv1.Bulletin, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var document yaml.Node
	if err := yaml.Unmarshal(text, &document); err != nil {
		return nil, fault.InvalidField(path, "", "YAML: "+err.Error())
	}
	if len(document.Content) != 1 {
		return nil, fault.InvalidField(path, "", "the fields of a bulletin")
	}
	whole, err := longhand("", document.Content[0])
	if err != nil {
		return nil, fault.Under(path, err)
	}
	raw, err := json.Marshal(whole)
	if err != nil {
		return nil, fault.InvalidField(path, "", "fields with words as their names: "+err.Error())
	}
	b := &bulletinv1.Bulletin{}
	if err := protojson.Unmarshal(raw, b); err != nil {
		return nil, fault.InvalidField(path, "", "the fields of a bulletin: "+strings.TrimPrefix(err.Error(), "proto: "))
	}
	return b, nil
}

// longhand writes out what stands in a field of that name more shortly than the
// API has it. Numbers that the API has as text keep their digits: "0.10" and
// "0.1" are different facts about a measurement.
func longhand(name string, node *yaml.Node) (any, error) {
	switch node.Kind {
	case yaml.MappingNode:
		out := map[string]any{}
		for i := 0; i+1 < len(node.Content); i += 2 {
			key := node.Content[i].Value
			if _, twice := out[key]; twice {
				return nil, fault.InvalidField(key, "", "each field once")
			}
			long, err := longhand(key, node.Content[i+1])
			if err != nil {
				return nil, err
			}
			out[key] = long
		}
		return out, nil
	case yaml.SequenceNode:
		out := make([]any, len(node.Content))
		for i, inner := range node.Content {
			long, err := longhand(name, inner)
			if err != nil {
				return nil, err
			}
			out[i] = long
		}
		return out, nil
	case yaml.ScalarNode:
		return scalar(name, node)
	}
	return nil, fault.InvalidField(name, node.Value, "fields, lists and values, without references")
}

// scalar reads a value that has none inside it.
func scalar(name string, node *yaml.Node) (any, error) {
	switch node.ShortTag() {
	case "!!str", "!!timestamp":
		return longText(name, node.Value)
	case "!!int", "!!float":
		if textual[name] {
			return node.Value, nil
		}
	}
	var value any
	err := node.Decode(&value)
	return value, err
}

// textual are fields of text that may look like a number.
var textual = map[string]bool{
	"lower": true, "upper": true, "action": true, "serials": true, "lots": true, "parts": true, "values": true, "option": true, "part": true,
}

func longText(name, text string) (any, error) {
	switch {
	case strings.HasSuffix(name, "_date"):
		d, err := vehicle.ParseDate(text)
		if err != nil {
			return nil, fault.Under(name, err)
		}
		return map[string]any{"year": d.Year, "month": int(d.Month), "day": d.Day}, nil
	case name == "distance":
		number, unit, ok := strings.Cut(text, " ")
		if !ok {
			return nil, fault.InvalidField(name, text, "a distance with its unit: 500 mi")
		}
		return map[string]any{"entered_value": number, "entered_unit": unit}, nil
	case name == "kind":
		return enumText("BULLETIN_KIND_", text), nil
	case name == "kinds":
		return enumText("USE_KIND_", text), nil
	}
	return text, nil
}

func enumText(prefix, text string) string {
	return prefix + strings.TrimPrefix(strings.ToUpper(strings.ReplaceAll(text, "-", "_")), prefix)
}
