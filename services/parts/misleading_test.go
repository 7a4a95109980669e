package parts_test

import (
	"fmt"
	"slices"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// misleading is a catalogue by which a survey may be misled.
type misleading struct {
	name     string
	rows     []parts.Conditions // of alpha-seal
	options  []build.Option
	overlaps []string // pairs of rows
	gap      bool
}

func misleadingCatalogues() []misleading {
	option := func(id string, f ...build.Fitment) build.Option { return build.Option{ID: id, Title: id, Fitments: f} }
	hinder := func(o build.Option, removes, needs, rulesOut []string) build.Option {
		o.Removes, o.Requires, o.Excludes = removes, needs, rulesOut
		return o
	}
	none := []string(nil)
	return []misleading{
		{name: "one row for all", rows: []parts.Conditions{{}}},
		{name: "two rows for all", rows: []parts.Conditions{{}, {}}, overlaps: []string{"A1 beside A0"}},
		{name: "the serial after 9 is 10", gap: true,
			rows: []parts.Conditions{{LastSerial: serial("AB9")}, {FirstSerial: serial("AB11")}}},
		{name: "nothing lies between 99 and 100",
			rows: []parts.Conditions{{LastSerial: serial("AB99")}, {FirstSerial: serial("AB100")}}},
		{name: "an exception leaves one vehicle out", gap: true,
			rows: []parts.Conditions{{Except: []vehicle.Serial{serial("AB8")}}}},
		{name: "the day itself is in both", overlaps: []string{"A1 beside A0"},
			rows: []parts.Conditions{{BuiltUntil: day("2010-06-01")}, {BuiltFrom: day("2010-06-01")}}},
		{name: "the day between is in neither", gap: true,
			rows: []parts.Conditions{{BuiltUntil: day("2010-06-01")}, {BuiltFrom: day("2010-06-03")}}},
		{name: "a market that no row names", gap: true, rows: []parts.Conditions{{Markets: []string{"GB"}}, {Markets: []string{"FR"}}}},
		{name: "a market that only an expression names", overlaps: []string{"A1 beside A0"},
			rows: []parts.Conditions{{}, {AppliesWhen: `market == "GB"`}}},
		{name: "otherwise takes the rest", rows: []parts.Conditions{{Lots: []string{"L1"}}, {Otherwise: true}}},
		{name: "otherwise twice", overlaps: []string{"A2 beside A1"},
			rows: []parts.Conditions{{Lots: []string{"L1"}}, {Otherwise: true}, {Otherwise: true}}},
		{name: "two options that need each other are never apart", rows: []parts.Conditions{{Options: []string{"lux"}}, {Without: []string{"winch"}}},
			options: []build.Option{hinder(option("lux"), none, []string{"winch"}, none), hinder(option("winch"), none, []string{"lux"}, none)}},
		{name: "two options that rule each other out are never together", rows: []parts.Conditions{{Options: []string{"lux"}}, {Options: []string{"winch"}}, {Otherwise: true}},
			options: []build.Option{option("lux"), hinder(option("winch"), none, none, []string{"lux"})}},
		{name: "an option that fits a kit which holds what a row asks for", overlaps: []string{"A1 beside A0"},
			rows: []parts.Conditions{{}, {Together: []string{"P-1"}}}, options: []build.Option{option("lux", fitment("delta", "KIT", 1))}},
		{name: "an option that takes away what another option brings", gap: true,
			rows:    []parts.Conditions{{Options: []string{"lux"}, Together: []string{"P-1"}}, {Without: []string{"lux"}}},
			options: []build.Option{option("lux", fitment("delta", "P-1", 1)), hinder(option("tow"), []string{"delta"}, none, none)}},
		{name: "an option without which the assembly is not there", rows: []parts.Conditions{{Without: []string{"tow"}}},
			options: []build.Option{hinder(option("tow"), []string{"alpha"}, none, none)}},
		{name: "an expression that counts options", gap: true, rows: []parts.Conditions{{AppliesWhen: `options.size() < 2`}},
			options: []build.Option{option("lux"), option("tow")}},
	}
}

// The census of every vehicle says the same of each.
func TestTheSurveyIsNotMisled(t *testing.T) {
	for _, test := range misleadingCatalogues() {
		t.Run(test.name, func(t *testing.T) {
			w := &shop{releases: build.ReleaseSet{"R1": {ID: "R1", Effective: day("2008-01-01"), Options: test.options,
				Fitments: []build.Fitment{fitment("alpha", "P-0", 1), fitment("beta", "P-2", 1)}}}, positions: drawnPlaces, evaluate: evaluate}
			w.parts = []parts.Part{part("P-0", "Alpha"), part("P-1", "Winch"), part("P-2", "Beta"), part("KIT", "Kit", holds(line("P-1", 1)))}
			for i, c := range test.rows {
				w.applications = append(w.applications, parts.Application{ID: fmt.Sprintf("A%d", i), Position: "alpha-seal", Part: "P-2", Conditions: c})
			}
			overlaps, gaps := w.surveysAlike(t)
			var want []string
			for _, pair := range test.overlaps {
				want = append(want, "applications/"+pair[:2]+" beside applications/"+pair[10:])
			}
			if !slices.Equal(keys(overlaps), want) || gaps["alpha-seal R1"] != test.gap || len(gaps) > 1 {
				t.Errorf("overlaps %v, want %v; gaps %v, want one: %v", keys(overlaps), want, keys(gaps), test.gap)
			}
		})
	}
}
