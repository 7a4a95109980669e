package aldermoor_test

import (
	"encoding/csv"
	"io/fs"
	"math/big"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"halfshaft/services/vehicle"
	"halfshaft/testdata/aldermoor"
)

type record map[string]string

// table reads one of the works' tables.
func table(t *testing.T, name string) []record {
	t.Helper()
	f, err := aldermoor.Files.Open(name + ".csv")
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []record
	for _, row := range rows[1:] {
		r := record{}
		for i, column := range rows[0] {
			r[column] = row[i]
		}
		out = append(out, r)
	}
	return out
}

func TestTheCatalogueIsLargeAndHasEveryHardCase(t *testing.T) {
	tables := map[string][]record{}
	for _, name := range []string{"parts", "positions", "applications", "supersessions", "settings", "capacities", "shim_sizes", "dimensions"} {
		tables[name] = table(t, name)
	}
	several := func(cell string) bool { return strings.Contains(cell, "; ") }
	kits := map[string]bool{}
	olds := map[string]string{}
	for _, p := range tables["parts"] {
		kits[p["part"]] = p["contents"] != ""
	}
	for _, s := range tables["supersessions"] {
		olds[s["old part"]] = strings.TrimSuffix(s["new parts"], " x1")
	}
	for _, want := range []struct {
		what, table string
		least       int
		is          func(record) bool
	}{
		{"parts", "parts", 1250, func(record) bool { return true }},
		{"places on assemblies", "positions", 900, func(r record) bool { return r["within"] != "" }},
		{"positions of the releases", "positions", 50, func(r record) bool { return r["within"] == "" }},
		{"weights", "parts", 1000, func(r record) bool { return r["weight"] != "" }},
		{"sizes", "dimensions", 500, func(record) bool { return true }},
		{"other numbers", "parts", 40, func(r record) bool { return r["other numbers"] != "" }},
		{"settings", "settings", 120, func(r record) bool { return r["sample"] == "yes" }},
		{"settings with shims", "settings", 3, func(r record) bool { return r["shim sign"] != "" }},
		{"shims of which the stock is counted", "shim_sizes", 3, func(r record) bool { return r["stock"] != "" }},
		{"fluids", "capacities", 30, func(r record) bool { return r["sample"] == "yes" }},
		{"fluids that must not meet", "capacities", 10, func(r record) bool { return r["never mix"] != "" }},

		{"chains of three", "supersessions", 1, func(r record) bool { return olds[olds[olds[r["old part"]]]] != "" }},
		{"two-way supersessions", "supersessions", 30, func(r record) bool { return r["two way"] == "yes" }},
		{"one-way supersessions", "supersessions", 30, func(r record) bool { return r["two way"] == "no" }},
		{"splits", "supersessions", 2, func(r record) bool { return several(r["new parts"]) }},
		{"merges", "supersessions", 2, func(r record) bool { return r["also old parts"] != "" }},
		{"kits that replace a part", "supersessions", 2, func(r record) bool { return kits[strings.TrimSuffix(r["new parts"], " x1")] }},
		{"supersessions together with another part", "supersessions", 2, func(r record) bool { return r["together with"] != "" }},
		{"supersessions for some releases", "supersessions", 2, func(r record) bool { return r["releases"] != "" }},
		{"supersessions to come", "supersessions", 1, func(r record) bool { return r["effective date"] > aldermoor.Today.String() }},
		{"old stock to use up", "supersessions", 10, func(r record) bool { return r["old stock"] == "use up" }},
		{"old stock to rework", "supersessions", 2, func(r record) bool { return r["old stock"] == "rework" }},
		{"old stock to scrap", "supersessions", 5, func(r record) bool { return r["old stock"] == "scrap" }},
		{"old stock to keep", "supersessions", 2, func(r record) bool { return r["old stock"] == "keep" }},
		{"parts no longer to be had, with a drawing", "parts", 4, func(r record) bool { return r["status"] == "unavailable" && r["drawing"] != "" }},
		{"parts of which the stock is used up", "parts", 4, func(r record) bool { return r["status"] == "use up" }},
		{"left parts", "parts", 80, func(r record) bool { return r["hand"] == "left" }},
		{"right parts", "parts", 80, func(r record) bool { return r["hand"] == "right" }},
		{"parts at several places", "parts", 30, func(r record) bool { return several(r["positions"]) }},

		{"parts by release", "applications", 80, func(r record) bool { return r["releases"] != "" && r["part"] != "" }},
		{"parts by option", "applications", 10, func(r record) bool { return r["options"] != "" }},
		{"parts by what is fitted", "applications", 40, func(r record) bool { return strings.Contains(r["applies when"], "fitted[") }},
		{"parts by wheelbase", "applications", 10, func(r record) bool { return strings.Contains(r["applies when"], "wheelbase") }},
		{"parts by market", "applications", 8, func(r record) bool { return r["markets"] != "" }},
		{"parts by serial with exceptions", "applications", 3, func(r record) bool { return r["first serial"] != "" && several(r["except serials"]) }},
		{"parts by the day it was built", "applications", 3, func(r record) bool { return r["built from"] != "" || r["built until"] != "" }},
		{"parts by lot", "applications", 3, func(r record) bool { return r["lots"] != "" }},
		{"parts only together with another", "applications", 10, func(r record) bool { return r["together with"] != "" }},
		{"parts where nothing else holds", "applications", 10, func(r record) bool { return r["otherwise"] == "yes" }},
		{"reasons why nothing is supplied", "applications", 50, func(r record) bool { return r["part"] == "" && r["text"] != "" }},
		{"rows without part and reason", "applications", 0, func(r record) bool { return r["part"] == "" && r["text"] == "" }},
	} {
		n := 0
		for _, r := range tables[want.table] {
			if want.is(r) {
				n++
			}
		}
		if n < want.least || want.least == 0 && n > 0 {
			t.Errorf("%s: %d, want at least %d", want.what, n, want.least)
		}
	}
}

// programme is what the service programme says of fluids and limits.
type programme struct {
	Items []struct {
		ID       string `yaml:"item_id"`
		Position string
		Fluid    struct{ Fluid, Quantity string }
		Measured []struct{ Characteristic, Unit, Lower, Upper string }
	}
}

func theProgramme(t *testing.T) programme {
	t.Helper()
	text, err := fs.ReadFile(aldermoor.Files, "programmes/packhorse.v2.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var p programme
	if err := yaml.Unmarshal(text, &p); err != nil {
		t.Fatal(err)
	}
	return p
}

// What is filled in at the works is what is filled in at a service. An item for
// several positions of one beginning says the quantity of all of them together,
// but for the swivel housings, of which it says that of each side.
func TestTheFluidsAreThoseOfTheProgramme(t *testing.T) {
	capacities, compared := table(t, "capacities"), 0
	for _, item := range theProgramme(t).Items {
		if item.Position == "" || item.Fluid.Fluid == "" || item.ID == "S03" || item.ID == "B03R" {
			continue // S03 is a film on the outside; no release has discs at the rear, which B03R is for
		}
		want, err := vehicle.ParseQuantity(item.Fluid.Quantity)
		if err != nil {
			t.Fatal(err)
		}
		total, unit, n := new(big.Rat), "", 0
		for _, c := range capacities {
			if c["fluid"] != item.Fluid.Fluid || c["position"] != item.Position && !strings.HasPrefix(c["position"], item.Position+"-") {
				continue
			}
			q, err := vehicle.ParseQuantity(c["quantity"])
			if err != nil {
				t.Fatal(err)
			}
			if n++; n == 1 || item.Position == "swivel-housing" {
				total, unit = q.Value.Rat(), q.Unit
			} else {
				total.Add(total, q.Value.Rat())
			}
		}
		compared++
		if n == 0 || unit != want.Unit || total.Cmp(want.Value.Rat()) != 0 {
			t.Errorf("%s: %d rows for %s at the %s give %s %s, want %s", item.ID, n, item.Fluid.Fluid, item.Position, total.FloatString(3), unit, item.Fluid.Quantity)
		}
	}
	if compared < 20 {
		t.Errorf("only %d fluids were compared", compared)
	}
}

// What something is set to must be acceptable at the first check.
func TestTheSettingsLieWithinTheLimitsOfTheProgramme(t *testing.T) {
	compared := 0
	limit := func(text string) vehicle.Decimal {
		d, err := vehicle.ParseDecimal(text)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	for _, item := range theProgramme(t).Items {
		for _, m := range item.Measured {
			for _, s := range table(t, "settings") {
				at := s["position"] == item.Position || strings.HasPrefix(s["position"], item.Position+"-") // every position where it names none
				if s["characteristic"] != m.Characteristic || item.Position != "" && !at {
					continue
				}
				compared++
				within := s["unit"] == m.Unit &&
					(m.Lower == "" || s["lower"] != "" && limit(s["lower"]).Cmp(limit(m.Lower)) >= 0) &&
					(m.Upper == "" || s["upper"] != "" && limit(s["upper"]).Cmp(limit(m.Upper)) <= 0)
				if !within {
					t.Errorf("%s is %s to %s %s; %s wants %s to %s %s", s["id"], s["lower"], s["upper"], s["unit"], item.ID, m.Lower, m.Upper, m.Unit)
				}
			}
		}
	}
	if compared < 25 {
		t.Errorf("only %d settings were compared", compared)
	}
}
