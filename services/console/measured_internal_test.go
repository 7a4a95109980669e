package console

import (
	"strings"
	"testing"
)

func TestAValueIsToldFromWhatWasMeasured(t *testing.T) {
	for _, c := range []struct{ typed, value, words string }{
		{"0.18 mm", "0.18 mm", ""},
		{"0.18mm", "0.18 mm", ""},
		{"0.18 mm output-shaft-bearing", "0.18 mm", "output-shaft-bearing"},
		{"output-shaft-bearing 0.18mm", "0.18 mm", "output-shaft-bearing"},
		{"0.18mm output shaft bearing", "0.18 mm", "output shaft bearing"},
		{"end float 0.18 mm output shaft", "0.18 mm", "end float output shaft"},
		{"tyre tread 3 mm", "3 mm", "tyre tread"},
		{"3 mm in the tyre", "3 mm", "in the tyre"},
		{"7 thou hub front left", "7 thou", "hub front left"},
		{"40 lbf ft rear axle differential", "40 lbf ft", "rear axle differential"},
		{"rear axle differential 40 lbf ft", "40 lbf ft", "rear axle differential"},
		{"40 ft lb", "40 ft lb", ""},
		{"3 notches parking brake", "3 notches", "parking brake"},
		{"parking brake 3notches", "3 notches", "parking brake"},
		{"-20 °C cooling system", "-20 °C", "cooling system"},
		{"minus 20 °C cooling system", "-20 °C", "cooling system"},
		{"cylinder 3 valve 0.25 mm", "0.25 mm", "cylinder 3 valve"},
		{"1.5 % brakes", "1.5 %", "brakes"},
		{"5 in lb", "5 in lb", ""}, // a torque, not inches
	} {
		got, err := saidOf(strings.Fields(c.typed))
		if err != nil || got.value.String() != c.value || got.words != c.words {
			t.Errorf("%s: %s of %q, %v", c.typed, got.value, got.words, err)
		}
	}
	for typed, want := range map[string]string{
		"": "a number with its unit", "0.18": "its unit too", "mm 0.18": "its unit too", "output shaft 0.18": "its unit too",
		"0,18 mm": "a number with its unit", "hub": "a number with its unit",
	} {
		if got, err := saidOf(strings.Fields(typed)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q is taken for %s of %q, %v", typed, got.value, got.words, err)
		}
	}
	if got, err := saidOf([]string{"0.18", "output", "shaft"}); err != nil || !got.doubtful {
		t.Errorf("a word that may be a unit: %+v, %v", got, err)
	}
}
