package parts_test

import (
	"strings"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/internal/predicate"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// brakeShed is a vehicle with silicone brakes and a catalogue that knows two
// glycol sets, of which the releases have one. The clutch takes the fluid of
// the brakes.
func brakeShed(t *testing.T) (*parts.Catalogue, build.ReleaseSet) {
	t.Helper()
	compiler, err := predicate.NewCompiler()
	if err != nil {
		t.Fatal(err)
	}
	c := parts.NewCatalogue()
	c.Expressions(compiler)
	like := func(traits ...string) func(*parts.Part) { return func(p *parts.Part) { p.Traits = traits } }
	for _, p := range []parts.Part{
		part("AP-4040", "Brake hydraulics, glycol", at("brake-hydraulics"), like("glycol-dot4")),
		part("AP-4045", "Brake hydraulics, silicone", at("brake-hydraulics"), like("silicone-dot5")),
		part("AP-4099", "Brake hydraulics, racing", at("brake-hydraulics"), like("glycol-dot4", "braided")),
		part("AP-4100", "Clutch", at("clutch")),
		part("AP-4046", "Brake hose, silicone", at("brake-hose")), part("AP-4047", "Brake hose, glycol", at("brake-hose")),
	} {
		c.Put(p)
	}
	c.PutPosition(parts.Position{ID: "brake-hose", Title: "Brake hose", Within: "brake-hydraulics"})
	for trait, fluid := range map[string]string{"glycol-dot4": "DOT 4", "silicone-dot5": "DOT 5 (silicone)"} {
		asks := parts.Conditions{AppliesWhen: `"` + trait + `" in fitted["brake-hydraulics"]`}
		for _, position := range []string{"brake-hydraulics", "clutch"} {
			c.PutCapacity(parts.Capacity{ID: position + trait, Position: position, Fluid: fluid, Family: trait,
				Quantity: vehicle.Quantity{Value: vehicle.Decimal{Coefficient: 8, Scale: 1}, Unit: "l"}, Conditions: asks})
		}
		c.PutApplication(applies("H"+trait, "brake-hose", map[string]string{"glycol-dot4": "AP-4047", "silicone-dot5": "AP-4046"}[trait], asks))
	}
	c.Seal()
	like5 := []build.Fitment{{Position: "brake-hydraulics", Part: "AP-4045", Traits: []string{"silicone-dot5"}}, fitment("clutch", "AP-4100", 1)}
	like4 := []build.Fitment{{Position: "brake-hydraulics", Part: "AP-4040", Traits: []string{"glycol-dot4"}}, fitment("clutch", "AP-4100", 1)}
	return c, build.ReleaseSet{
		"R1": {ID: "R1", Effective: day("2008-01-01"), Fitments: like4},
		"R2": {ID: "R2", Effective: day("2012-01-01"), Fitments: like5},
	}
}

// The wrong brake fluid swells the seals: what goes in follows from the part
// that is fitted, and never silently from the one that used to be.
func TestTheFluidFollowsTheBrakesThatAreFitted(t *testing.T) {
	for _, c := range []struct {
		name, fitted, fluid, hose string
		says                      string // what the reasons of the fluid say
		assumed                   bool
	}{
		{"the standard", "AP-4045", "DOT 5 (silicone)", "AP-4046", "by what is fitted there: silicone dot5;", false},
		{"the part of another release", "AP-4040", "DOT 4", "AP-4047", "by what is fitted there: glycol dot4;", false},
		{"a part that only the catalogue knows", "AP-4099", "DOT 4", "AP-4047", "by what is fitted there: glycol dot4, braided;", false},
		{"a part that nobody knows", "ZX-1", "DOT 5 (silicone)", "AP-4046", "by what is fitted there, taken to be like AP-4045: silicone dot5;", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			catalogue, releases := brakeShed(t)
			l := built("AM0101", "R2").change("2021-05-05", build.Fit, build.SourceOwner, "brake-hydraulics", c.fitted)
			conf, specified, err := build.ConfigureSpecified(l.record, l.changes, releases, day(today))
			if err != nil {
				t.Fatal(err)
			}
			a := parts.Answerer{Catalogue: catalogue, Places: parts.NewPlaces(releases)}
			ready := a.Prepare(&parts.Vehicle{Configuration: conf, Specified: specified})
			sheet := ready.Sheet("")
			if len(sheet.Fluids) != 2 || len(sheet.Open) != 0 {
				t.Fatalf("fluids %+v, open %+v", sheet.Fluids, sheet.Open)
			}
			for _, f := range sheet.Fluids {
				said := sentences(f.Reasons)
				if f.Fluid != c.fluid || strings.Contains(said, "What ZX-1 is like is not on record") != c.assumed {
					t.Errorf("%s: got %s, because: %s", f.Position, f.Fluid, said)
				}
				if f.Position == "brake-hydraulics" && !strings.Contains(said, c.says) {
					t.Errorf("got %s, want it to say %q", said, c.says)
				}
			}
			hose := ready.Answer("brake hose").Choices[0]
			if said := sentences(hose.Reasons); hose.Order.Number != c.hose || strings.Contains(said, "What ZX-1 is like is not on record") != c.assumed {
				t.Errorf("the hose: got %s, because: %s", hose.Order.Number, said)
			}
			brakes := sentences(ready.Answer("brake hydraulics").Choices[0].Reasons)
			if strings.Contains(brakes, "is like is not on record") != c.assumed ||
				strings.Contains(brakes, "The catalogue says what AP-4099 is like: glycol dot4, braided.") != (c.fitted == "AP-4099") {
				t.Errorf("the brakes: %s", brakes)
			}
		})
	}
}

func sentences(reasons []vehicle.Reason) string {
	var all []string
	for _, r := range reasons {
		all = append(all, r.Sentence)
	}
	return strings.Join(all, " ")
}
