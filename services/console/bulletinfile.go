package console

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"time"

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
	var fields map[string]any
	if err := yaml.Unmarshal(text, &fields); err != nil {
		return nil, fault.InvalidField(path, "", "YAML: "+err.Error())
	}
	whole, err := longhand("", fields)
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
// API has it.
func longhand(name string, value any) (any, error) {
	switch v := value.(type) {
	case map[string]any:
		out := make(map[string]any, len(v))
		for key, inner := range v {
			long, err := longhand(key, inner)
			if err != nil {
				return nil, err
			}
			out[key] = long
		}
		return out, nil
	case []any:
		out := make([]any, len(v))
		for i, inner := range v {
			long, err := longhand(name, inner)
			if err != nil {
				return nil, err
			}
			out[i] = long
		}
		return out, nil
	case time.Time:
		return longhand(name, v.UTC().Format(time.DateOnly))
	case string:
		return longText(name, v)
	case int, float64:
		if textual[name] {
			return fmt.Sprint(v), nil
		}
	}
	return value, nil
}

// textual are fields whose text may look like a number.
var textual = map[string]bool{
	"lower": true, "upper": true, "action": true, "signed_by": true, "serials": true, "lots": true, "parts": true, "values": true, "option": true, "part": true,
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
