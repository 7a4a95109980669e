package parts_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

func TestTheShedsApplicationsLeaveNeitherGapNorOverlap(t *testing.T) {
	if found := shedTechnical(t).Check(shedReleases()); len(found) > 0 {
		t.Errorf("%+v", found)
	}
}

func TestWhatIsWrongWithApplicationsIsAllToldAtOnce(t *testing.T) {
	c := shedTechnical(t)
	for _, p := range []parts.Position{
		place("gearbox-filler", "gearbox"), place("winch-motor", "winch"), place("nowhere-bolt", "nowhere"), place("unheard-of", ""),
		place("loop-one", "loop-two"), place("loop-two", "loop-one"), place("plug-lead", "spark-plugs"), place("plug-cap", "spark-plugs"),
		place("case-seal", "transfer-case"), place("empty", "gearbox"),
	} {
		c.PutPosition(p)
	}
	for _, a := range []parts.Application{
		applies("B01", "gearbox-filler", "AP-2110", parts.Conditions{Releases: []string{"R1"}}), // a gap in R2
		applies("B02", "winch-motor", "AP-9010", parts.Conditions{LastSerial: serial("AM0110")}),
		applies("B03", "winch-motor", "AP-9010", parts.Conditions{FirstSerial: serial("AM0110")}), // both at AM0110
		applies("B04", "nowhere-bolt", "AP-9010", parts.Conditions{}),
		applies("B05", "elsewhere", "AP-NONE", parts.Conditions{Options: []string{"sunroof"}, Releases: []string{"R9"}, Together: []string{"AP-XX"}}),
		applies("B06", "plug-lead", "AP-2110", parts.Conditions{AppliesWhen: `"AM" in fitted["winch"]`}), // asks without looking
		applies("B07", "plug-cap", "AP-2110", parts.Conditions{AppliesWhen: `fitted[`}),
		applies("B08", "case-seal", "AP-2110", parts.Conditions{BuiltUntil: day("2015-01-01")}),
		applies("B09", "case-seal", "AP-2111", parts.Conditions{BuiltFrom: day("2015-01-03")}), // nothing for the day between
	} {
		c.PutApplication(a)
	}
	c.Put(part("AP-9999", "Fan shroud", at("fan-belt")))
	c.PutApplication(applies("B10", "gearbox-lever", "AP-9999", parts.Conditions{FirstSerial: serial("AM0900")})) // stands elsewhere
	c.PutApplication(applies("B11", "gearbox-lever", "AP-2120", parts.Conditions{AppliesWhen: `"whinch" in options || "gearbocks" in fitted`}))
	c.PutSetting(parts.Setting{ID: "T3", Position: "transfer-case", Characteristic: "torque", Subject: "case bolts", Unit: "N.m", Upper: "60", Conditions: parts.Conditions{Releases: []string{"R2"}}})
	var got []string
	for _, f := range c.Check(shedReleases()) {
		got = append(got, f.Name+" | "+f.Got+" | "+f.Want)
	}
	for _, want := range []string{
		"rows[applications/B01].conditions | release R2 | an application that holds for the gearbox filler there; applications/B01 is for release R1, and this position follows R2",
		"rows[applications/B03].conditions | release R1 with winch, serial AM0110 | no vehicle that applications/B02 holds for too",
		"rows[positions/nowhere-bolt].within | nowhere | a position of a release or of the catalogue",
		"rows[positions/unheard-of].name | unheard-of | a position of a release, or the assembly that it is on as within",
		"rows[positions/loop-one].within | loop-one -> loop-two -> loop-one | an assembly that is not on itself",
		"rows[positions/empty].name | empty | an application that says which part belongs there, or why none does",
		"rows[applications/B05].position | elsewhere | a position of a release or of the catalogue",
		"rows[applications/B05].part | AP-NONE | a part of the catalogue",
		"rows[applications/B05].conditions.releases[0] | R9 | a release that there is",
		"rows[applications/B05].conditions.options[0] | sunroof | an option of a release that the row is for",
		"rows[applications/B05].conditions.together_with[0] | AP-XX | a part of the catalogue",
		"rows[applications/B08].conditions | release R1, built on 2 January 2015",
		"rows[settings/T3].conditions | release R2 | no vehicle that settings/T1 holds for too",
		"rows[applications/B10].part | AP-9999 | a part that may stand at the gearbox lever; its own entry says: fan belt",
		"rows[applications/B11].conditions.applies_when | whinch | an option of a release that the row is for",
		"rows[applications/B11].conditions.applies_when | gearbocks | a position of a release",
	} {
		if !slices.ContainsFunc(got, func(g string) bool { return strings.HasPrefix(g, want) }) {
			t.Errorf("not told: %s", want)
		}
	}
	for _, want := range []string{"rows[applications/B06].conditions.applies_when", "rows[applications/B07].conditions.applies_when"} {
		if !slices.ContainsFunc(got, func(g string) bool { return strings.HasPrefix(g, want) }) {
			t.Errorf("not told: %s", want)
		}
	}
	if t.Failed() {
		t.Log(strings.Join(got, "\n"))
	}
}

// 4,096 sets of options and 3,200 kinds of vehicles are few each, and together
// too many to look through.
func TestRowsThatTellTooManyVehiclesApartAreRefused(t *testing.T) {
	c, releases := shedTechnical(t), shedReleases()
	var options, markets, lots []string
	for i := range 12 {
		options = append(options, fmt.Sprint("extra-", i))
		releases["R2"].Options = append(releases["R2"].Options, build.Option{ID: options[i]})
	}
	for i := range 40 {
		markets, lots = append(markets, fmt.Sprint("M", i)), append(lots, fmt.Sprint("L", i), fmt.Sprint("K", i))
	}
	c.PutPosition(place("gearbox-filler", "gearbox"))
	c.PutApplication(applies("B01", "gearbox-filler", "AP-2110", parts.Conditions{Options: options, Markets: markets, Lots: lots}))
	c.PutApplication(applies("B02", "gearbox-filler", "AP-2110", parts.Conditions{Otherwise: true}))
	found := c.Check(releases)
	if len(found) != 1 || found[0].Name != "rows[applications/B01].conditions" || !strings.Contains(found[0].Want, "fewer apart") {
		t.Errorf("got %v, want B01 refused, and only once", found)
	}
}

func TestARowByItselfIsToldEverythingThatIsWrongWithIt(t *testing.T) {
	for _, test := range []struct {
		name   string
		faults []string
		row    func() []fault.Field
	}{
		{"an application", []string{"name", "position", "part", "quantity", "conditions.options[0]", "conditions.last_serial", "conditions.built_until_date"},
			func() []fault.Field {
				a := parts.Application{ID: "bad id", Position: "Gear Box", Quantity: -1, Conditions: parts.Conditions{
					Options: []string{"winch"}, Without: []string{"winch"}, FirstSerial: serial("AM0120"), LastSerial: serial("AM0110"),
					BuiltFrom: day("2020-01-01"), BuiltUntil: day("2019-01-01")}}
				return a.Validate()
			}},
		{"a setting with shims", []string{"position", "characteristic", "unit", "upper", "target", "source_mark", "shims.sign", "shims.load_per_mm", "shim_sizes[0].thickness", "shim_sizes[0].stock"},
			func() []fault.Field {
				s := parts.Setting{ID: "T1", Position: "", Characteristic: "End Float", Unit: "", Lower: "0.2", Upper: "0.1", Target: "0.5", SourceMark: "z",
					Shims: &parts.ShimDesign{LoadPerMM: "-1", Sizes: []parts.ShimSize{{Stock: -1, Limited: true}}}}
				return s.Validate()
			}},
		{"a setting in a unit that is none", []string{"unit"}, func() []fault.Field {
			s := parts.Setting{ID: "T1", Position: "gearbox", Characteristic: "torque", Unit: "furlong", Upper: "50"}
			return s.Validate()
		}},
		{"a torque in millimetres, less than nothing", []string{"unit", "lower"}, func() []fault.Field {
			s := parts.Setting{ID: "T1", Position: "gearbox", Characteristic: "torque", Unit: "mm", Lower: "-5", Upper: "50"}
			return s.Validate()
		}},
		{"a capacity that is no amount", []string{"quantity"}, func() []fault.Field {
			c := parts.Capacity{ID: "F1", Position: "gearbox", Fluid: "oil", Family: "oil", Quantity: vehicle.Quantity{Value: vehicle.Decimal{Coefficient: 5}, Unit: "bananas"}}
			return c.Validate()
		}},
		{"scrap that may stand in", []string{"old_stock"}, func() []fault.Field {
			s := parts.Supersession{ID: "S1", Old: "A-1", New: lines(line("A-2", 1)), TwoWay: true, OldStock: parts.Scrapped}
			return s.Validate()
		}},
		{"a capacity", []string{"fluid", "family", "quantity", "never_mix[0]"}, func() []fault.Field {
			c := parts.Capacity{ID: "F1", Position: "gearbox", Family: "Oil", NeverMix: []string{"Any Oil"}, Quantity: vehicle.Quantity{}}
			return c.Validate()
		}},
		{"a position", []string{"title", "within"}, func() []fault.Field {
			p := parts.Position{ID: "a", Within: "a"}
			return p.Validate()
		}},
		{"a merge", []string{"also_old_parts[0]", "two_way", "old_stock"}, func() []fault.Field {
			s := parts.Supersession{ID: "S1", Old: "A-1", New: lines(line("A-2", 1)), AlsoOld: []string{"A-2"}, TwoWay: true, OldStock: 9}
			return s.Validate()
		}},
	} {
		var got []string
		for _, f := range test.row() {
			got = append(got, f.Name)
		}
		for _, want := range test.faults {
			if !slices.Contains(got, want) {
				t.Errorf("%s: %s is not told, but %v", test.name, want, got)
			}
		}
	}
}
