package main

import (
	"strings"
	"testing"
)

// TestMeasuredValuesReadLikeThis compares what support reads out with
// testdata/measured.golden: a bearing whose float grows past its window, one
// that was re-shimmed twice, with its packs, treads that wear with the miles, and what a
// mechanic's value means (STORIES.md of the demo works).
func TestMeasuredValuesReadLikeThis(t *testing.T) {
	data := demoData(t)
	readLike(t, data, "testdata/measured.golden", [][]string{
		{"measured", "am 0108 2"},
		{"measured", "AM01082", "output-shaft-bearing", "--characteristic", "end float"},
		{"measured", "AM01082", "output-shaft-bearing", "--characteristic", "end-float", "--on", "2016-01-01"},
		{"measured", "AM0101G", "output-shaft-bearing", "--characteristic", "end-float"},
		{"measured", "AM0101G", "output-shaft-bearing", "--characteristic", "end-float", "--on", "2022-03-01"},
		{"measured", "AM0101G", "output-shaft-bearing", "--characteristic", "shim pack"},
		{"measured", "AM0103C", "tyres"},
		{"measured", "AM01082", "gearbox"},
		{"judge", "AM01082", "0.18 mm"},
		{"judge", "AM01082", "0.18 mm", "hub front"},
		{"judge", "AM01082", "0.18", "mm", "output-shaft-bearing"},
		{"judge", "AM01082", "7 thou", "output", "shaft"},
		{"judge", "AM01082", "0.26 mm", "output-shaft-bearing"},
		{"judge", "AM01082", "1.8 mm", "output-shaft-bearing"},
		{"judge", "AM0101G", "0.09 mm", "output-shaft-bearing"},
		{"judge", "AM0101G", "0.14 mm", "output-shaft-bearing", "--on", "2024-02-20"},
		{"judge", "AM01074", "41 lbf ft", "rear axle"},
		{"judge", "AM0101G", "output-shaft-bearing", "0.18mm"},
		{"judge", "AM01082", "0.25", "mm", "valve", "clearance"},
		{"judge", "AM01082", "tyre tread 3 mm"},
		{"judge", "AM01082", "gap of the points", "0.38 mm"},
		{"judge", "AM01082", "0.18 mm output shaft flaot"},
		{"judge", "AM01082", "brakes-front lining 5.0 mm"},
	})
	if out, ok := halfshaft(t, data, "judge", "AM01082", "0.18 mm", "output-shaft-bearing", "--json"); !ok || !strings.Contains(out, `"MEASURED_ADVICE_PLAN"`) {
		t.Errorf("as JSON: %v\n%s", ok, out)
	}
	for typed, want := range map[string]string{
		"0.18 output shaft": `value: got "0.18", want its unit too`, "output shaft 0.18": `value: got "0.18", want its unit too`,
		"0.18 mm flux of the capacitor": "words: got", "output shaft": "want a number with its unit",
	} {
		if out, ok := halfshaft(t, data, "judge", "AM01082", typed); ok || !strings.Contains(out, want) {
			t.Errorf("%s: %v, %s", typed, ok, out)
		}
	}
	if out, ok := halfshaft(t, data, "judge", "AM01082", "6 kg", "swivel pin left"); ok || !strings.Contains(out, "a force is written kgf") {
		t.Errorf("a force in kilograms: %v, %s", ok, out)
	}
}
