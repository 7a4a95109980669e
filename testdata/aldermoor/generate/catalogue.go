package main

import (
	"fmt"
	"strings"
)

var partColumns = []string{"part", "title", "words", "positions", "hand", "unit", "minimum quantity", "status", "drawing", "contents", "renew with", "caution", "notes"}

var supersessionColumns = []string{"id", "old part", "new parts", "effective date", "two way", "releases", "together with", "text"}

// synonyms are what people say, and how they misspell it.
var synonyms = map[string]string{
	"air-cleaner": "air filter; air box", "carburettor": "carburetor; carb; carburetter", "gearbox": "transmission; gear box",
	"transfer-case": "transfer box; transfer gearbox; drop box", "output-shaft-bearing": "output bearing; tail bearing",
	"parking-brake": "handbrake; hand brake; emergency brake", "propshaft-front": "drive shaft; propeller shaft; prop shaft",
	"propshaft-rear": "drive shaft; propeller shaft; prop shaft", "front-axle-differential": "diff; front diff; pumpkin",
	"rear-axle-differential": "diff; rear diff; pumpkin", "swivel-housing-left": "swivel ball; steering knuckle; swival",
	"swivel-housing-right": "swivel ball; steering knuckle; swival", "alternator": "generator; dynamo", "tyres": "tire; tires",
	"spark-plugs": "plug; sparkplug", "fan-belt": "alternator belt; v-belt", "starter": "starter motor", "lamps": "lights; headlamp",
	"speedometer": "speedo; odometer; clock", "shock-absorbers": "damper; shocker", "springs": "leaf spring; road spring",
	"clutch": "cluch", "battery": "batery; accumulator", "winch": "wynch", "brakes-front": "brake shoes; brake pads", "brakes-rear": "brake shoes",
	"hub-front-left": "wheel bearing", "hub-front-right": "wheel bearing", "hub-rear-left": "wheel bearing", "hub-rear-right": "wheel bearing",
	"soft-top": "hood; tilt; canvas", "exhaust": "silencer; muffler", "distributor": "dizzy", "radiator": "rad", "cooling-system": "radiator; rad; cooler",
}

// cautions stand beside the part that can hurt.
var cautions = map[string]string{
	"brakes-front": "Brake dust: no compressed air. Chocks before the wheels come off.", "brakes-rear": "Brake dust: no compressed air. Chocks before the wheels come off.",
	"brake-hydraulics": "Never mix glycol and silicone brake fluids.", "battery": "Fit no spark near it; mind the polarity.",
	"fuel-system": "Fire: no sparks, battery isolated.", "fuel-hoses": "Fire: no sparks, battery isolated.",
	"parking-brake":        "The brake on the transfer-case output does not hold with a driven wheel raised, a half shaft out or a propshaft off: chock the wheels.",
	"output-shaft-bearing": "With the propshaft off the transmission brake holds nothing: chock the wheels.",
	"propshaft-front":      "With the propshaft off the transmission brake holds nothing: chock the wheels.",
	"propshaft-rear":       "With the propshaft off the transmission brake holds nothing: chock the wheels.",
	"winch":                "Gloves, a damper on the rope, bystanders clear.", "springs": "Stands under the frame, not under the axle.",
	"rear-axle-differential": "A limited-slip axle turns the wheel that is on the ground.", "front-axle-differential": "A limited-slip axle turns the wheel that is on the ground.",
}

// small are the parts that come with an assembly, numbered after it: number is
// the assembly's times ten, plus this.
var small = []struct {
	offset int
	title  string
	words  string
	unit   string
}{
	{1, "gasket", "joint; gaskit", "each"}, {2, "oil seal", "seal; oilseal", "each"}, {3, "bearing", "race", "each"},
	{4, "bolt set", "bolts; screws", "set"}, {5, "locking tab", "lock tab; tab washer", "each"}, {6, "bush", "bushing", "each"},
}

// assemblies have small parts of their own.
var assemblies = []string{
	"engine", "carburettor", "fuel-system", "clutch", "gearbox", "transfer-case", "output-shaft-bearing", "parking-brake", "propshaft-front",
	"propshaft-rear", "front-axle-differential", "rear-axle-differential", "swivel-housing-left", "swivel-housing-right", "swivel-pin-left",
	"swivel-pin-right", "hub-front-left", "hub-front-right", "hub-rear-left", "hub-rear-right", "brakes-front", "brakes-rear",
	"steering-box", "steering-linkage", "springs", "alternator", "starter", "cooling-system", "exhaust", "body", "heater", "distributor",
}

func (w *works) catalogue() {
	known := map[string]bool{}
	part := func(c cells) {
		if !known[c["part"]] {
			known[c["part"]] = true
			w.add("parts", c, partColumns...)
		}
	}
	for _, p := range places {
		for r := range releases {
			part(cells{
				"part": p.part(r), "title": describe(p.title, p.traitsIn(r)), "words": synonyms[p.position], "positions": p.position,
				"hand": hand(p.position), "unit": "each", "status": "orderable", "caution": cautions[p.position], "renew with": renewals[p.position],
			})
		}
	}
	for _, o := range optionList {
		for _, f := range o.fitments {
			part(cells{"part": f.part, "title": f.title, "words": synonyms[f.position], "positions": f.position, "unit": "each", "status": "orderable", "caution": cautions[f.position]})
		}
	}
	for _, p := range places {
		if !contains(assemblies, p.position) {
			continue
		}
		for _, s := range small {
			part(cells{
				"part": fmt.Sprintf("AP-%d", p.base*10+s.offset), "title": p.title + ": " + s.title, "words": s.words,
				"positions": p.position, "hand": hand(p.position), "unit": s.unit, "status": "orderable", "minimum quantity": minimum(s.offset),
			})
		}
	}
	for _, c := range handMadeParts {
		part(c)
	}
	w.supersessions(part)
}

// renewals are what must be new whenever the thing is apart.
var renewals = map[string]string{
	"output-shaft-bearing": "AP-20401 x1; AP-20402 x1; AP-20405 x2", "swivel-housing-left": "AP-31001 x1; AP-31002 x1",
	"swivel-housing-right": "AP-31101 x1; AP-31102 x1", "front-axle-differential": "AP-30001 x1", "rear-axle-differential": "AP-30101 x1",
	"hub-front-left": "AP-32005 x1; AP-32002 x1", "hub-front-right": "AP-32105 x1; AP-32102 x1", "hub-rear-left": "AP-32205 x1", "hub-rear-right": "AP-32305 x1",
}

func minimum(offset int) string {
	if offset == 5 {
		return "2"
	}
	return ""
}

func describe(title, traits string) string {
	if traits == "" {
		return title
	}
	return title + ", " + strings.ReplaceAll(strings.ReplaceAll(traits, "+", ", "), "-", " ")
}

func hand(position string) string {
	switch {
	case strings.HasSuffix(position, "-left"):
		return "left"
	case strings.HasSuffix(position, "-right"):
		return "right"
	}
	return ""
}

// handMadeParts are the parts of the hard cases.
var handMadeParts = []cells{
	{"part": "AP-2070", "title": "Re-shim kit, output shaft", "words": "shim kit; end float kit", "positions": "output-shaft-bearing", "unit": "set", "status": "orderable",
		"contents": "AP-20401 x1; AP-20402 x1; AP-20405 x2; AP-2071 x6", "caution": cautions["output-shaft-bearing"]},
	{"part": "AP-2071", "title": "Shim set, output shaft, 0.08 to 0.51 mm", "words": "shims", "positions": "output-shaft-bearing", "unit": "set", "status": "orderable"},
	{"part": "AP-2072", "title": "Shim pack, output shaft, old pattern", "words": "shims", "positions": "output-shaft-bearing", "unit": "set", "status": "unavailable", "drawing": "ADR-2072"},
	{"part": "AP-5050", "title": "Frame outrigger, left", "words": "chassis outrigger", "positions": "chassis", "hand": "left", "unit": "each", "status": "unavailable", "drawing": "ADR-5050", "notes": "Remade from the drawing by the works."},
	{"part": "AP-1045", "title": "Distributor, electronic, for the owner's own fitting", "positions": "distributor", "unit": "each", "status": "orderable", "notes": "Not of the specification before R4."},
	{"part": "AP-4047", "title": "Master cylinder, campaign pattern", "words": "brake cylinder", "positions": "brake-hydraulics", "unit": "each", "status": "orderable", "caution": cautions["brake-hydraulics"]},
}

// supersessions replace small parts one by one, and tell the hard cases.
func (w *works) supersessions(part func(cells)) {
	add := func(c cells) { w.add("supersessions", c, supersessionColumns...) }
	id := 0
	next := func() string { id++; return fmt.Sprintf("S%03d", id) }
	for i, name := range assemblies {
		base := placeNamed(name).base * 10
		old, new := fmt.Sprintf("AP-%d", base+1+i%4), fmt.Sprintf("AP-%dA", base+1+i%4)
		part(cells{"part": new, "title": placeNamed(name).title + ": " + small[i%4].title + ", second pattern", "words": small[i%4].words,
			"positions": name, "hand": hand(name), "unit": small[i%4].unit, "status": "orderable"})
		add(cells{"id": next(), "old part": old, "new parts": new + " x1", "effective date": fmt.Sprintf("%d-03-01", 2013+i%10), "two way": yes(i%3 == 0), "text": "Better material."})
	}
	// A chain of three, ending in a part that is to be had.
	for _, link := range [][3]string{{"AP-1060", "AP-1061", "2012"}, {"AP-1061", "AP-1062", "2016"}, {"AP-1062", "AP-1063", "2021"}} {
		part(cells{"part": link[1], "title": "Fan belt, pattern " + link[1][6:], "words": synonyms["fan-belt"], "positions": "fan-belt", "unit": "each", "status": "orderable"})
		add(cells{"id": next(), "old part": link[0], "new parts": link[1] + " x1", "effective date": link[2] + "-06-01", "text": "Next pattern of belt."})
	}
	part(cells{"part": "AP-1121", "title": "Exhaust front pipe", "positions": "exhaust", "unit": "each", "status": "orderable"})
	part(cells{"part": "AP-1122", "title": "Exhaust silencer with tail pipe", "words": "muffler", "positions": "exhaust", "unit": "each", "status": "orderable"})
	part(cells{"part": "AP-6011", "title": "Alternator, 60 A", "words": synonyms["alternator"], "positions": "alternator", "unit": "each", "status": "orderable", "caution": "Battery isolated."})
	part(cells{"part": "AP-6021", "title": "Starter motor, geared", "words": "starter", "positions": "starter", "unit": "each", "status": "orderable"})
	for _, c := range []cells{
		{"old part": "AP-2072", "new parts": "AP-2070 x1", "effective date": "2016-01-01", "text": "The pack comes as a kit with gasket, seal and locking tabs, which a re-shim needs."},
		{"old part": "AP-1120", "new parts": "AP-1121 x1; AP-1122 x1", "effective date": "2018-05-01", "text": "Split into front pipe and silencer."},
		{"old part": "AP-6010", "new parts": "AP-6011 x1", "effective date": "2017-09-01", "two way": "no", "together with": "AP-6001", "text": "Only together with the AGM battery: the charging voltage differs."},
		{"old part": "AP-6020", "new parts": "AP-6021 x1", "effective date": "2020-04-01", "releases": "R4; R5", "text": "Only for the frame of R4 and R5: the housing is larger."},
		{"old part": "AP-5020", "new parts": "AP-5021 x1", "effective date": "2014-02-01", "two way": "yes", "text": "Either may be fitted."},
		{"old part": "AP-6040", "new parts": "AP-6041 x1", "effective date": "2021-02-01", "text": "Longer blades."},
	} {
		c["id"] = next()
		add(c)
	}
	part(cells{"part": "AP-5021", "title": "Steering damper, second pattern", "positions": "steering-damper", "unit": "each", "status": "orderable"})
	part(cells{"part": "AP-6041", "title": "Wiper set, longer blades", "positions": "wipers", "unit": "set", "status": "orderable"})
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

func placeNamed(position string) place {
	for _, p := range places {
		if p.position == position {
			return p
		}
	}
	panic("generate: no position " + position)
}
