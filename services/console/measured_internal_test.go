package console

import (
	"strings"
	"testing"
)

func TestAValueIsToldFromWhereItWasMeasured(t *testing.T) {
	for _, c := range []struct{ typed, value, position string }{
		{"0.18 mm", "0.18 mm", ""},
		{"0.18mm", "0.18 mm", ""},
		{"0.18 mm output-shaft-bearing", "0.18 mm", "output-shaft-bearing"},
		{"0.18mm output shaft bearing", "0.18 mm", "output shaft bearing"},
		{"7 thou hub front left", "7 thou", "hub front left"},
		{"40 lbf ft rear axle differential", "40 lbf ft", "rear axle differential"},
		{"40 ft lb", "40 ft lb", ""},
		{"3 notches parking brake", "3 notches", "parking brake"},
		{"-20 °C cooling system", "-20 °C", "cooling system"},
		{"1.5 % brakes", "1.5 %", "brakes"},
		{"5 in lb", "5 in lb", ""}, // a torque, not inches
	} {
		value, position, err := valueAndPosition(strings.Fields(c.typed))
		if err != nil || value.String() != c.value || position != c.position {
			t.Errorf("%s: %s at %q, %v", c.typed, value, position, err)
		}
	}
	for _, typed := range []string{"", "0.18", "mm 0.18", "0,18 mm", "hub"} {
		if value, position, err := valueAndPosition(strings.Fields(typed)); err == nil {
			t.Errorf("%q is taken for %s at %q", typed, value, position)
		}
	}
}
