package main

import (
	"fmt"
	"strings"
)

var partColumns = []string{"part", "title", "words", "positions", "hand", "unit", "minimum quantity", "status", "drawing", "contents", "renew with", "caution", "notes", "traits"}

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
				"hand": hand(p.position), "unit": unitOf(p.title), "status": status(p.part(r)), "drawing": drawings[p.part(r)],
				"caution": cautions[p.position], "renew with": renewals(p.position), "traits": traitWords(p.traitsIn(r)),
			})
		}
	}
	for _, o := range optionList {
		for _, f := range o.fitments {
			part(cells{
				"part": f.part, "title": f.title, "words": synonyms[f.position], "positions": f.position, "unit": unitOf(f.title), "status": "orderable",
				"caution": cautions[f.position], "renew with": renewals(f.position), "traits": traitWords(f.traits),
			})
		}
	}
	for _, a := range assemblies {
		a.parts(part)
	}
	for _, c := range handMadeParts {
		part(c)
	}
	w.supersessions(part)
}

// drawings are what a part that can no longer be had is remade from.
var drawings = map[string]string{"AP-5100": "ADR-5100", "AP-6070": "ADR-6070"}

// useUp are the parts of which no more are made.
var useUp = []string{"AP-1020", "AP-3100", "AP-3110", "AP-6010", "AP-1120"}

func status(part string) string {
	switch {
	case part == "AP-5100":
		return "unavailable"
	case contains(useUp, part):
		return "use up"
	}
	return "orderable"
}

func unitOf(title string) string {
	if strings.Contains(title, " set") || strings.Contains(title, " pair") {
		return "set"
	}
	return "each"
}

func traitWords(traits string) string { return strings.ReplaceAll(traits, "+", "; ") }

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
	{"part": "AP-2070", "title": "Re-shim kit, output shaft", "words": "shim kit; reshim kit; end float kit; endfloat kit", "positions": "output-shaft-bearing", "unit": "set", "status": "orderable",
		"contents": "AP-20401 x1; AP-20402 x1; AP-20403 x1; AP-20404 x1; AP-20405 x2; AP-20406 x1; AP-2071 x1", "caution": cautions["output-shaft-bearing"]},
	{"part": "AP-2071", "title": "Shim set, output shaft, 0.08 to 0.51 mm", "words": "shims", "positions": "output-shaft-bearing", "unit": "set", "status": "orderable"},
	{"part": "AP-2072", "title": "Shim pack, output shaft, old pattern", "words": "shim pack; shims", "positions": "output-shaft-bearing", "unit": "set", "status": "unavailable", "drawing": "ADR-2072"},
	{"part": "AP-5050", "title": "Frame outrigger, left", "words": "chassis outrigger", "positions": "chassis", "hand": "left", "unit": "each", "status": "unavailable", "drawing": "ADR-5050", "notes": "Remade from the drawing by the works."},
	{"part": "AP-5051", "title": "Frame outrigger, right", "words": "chassis outrigger", "positions": "chassis", "hand": "right", "unit": "each", "status": "orderable"},
	{"part": "AP-1045", "title": "Distributor, electronic, for the owner's own fitting", "positions": "distributor", "unit": "each", "status": "orderable", "notes": "Not of the specification before R4."},
	{"part": "AP-4047", "title": "Master cylinder, campaign pattern", "words": "brake cylinder", "positions": "brake-hydraulics", "unit": "each", "status": "orderable", "caution": cautions["brake-hydraulics"]},
}

// supersessions replace small parts one by one, and tell the hard cases.
func (w *works) supersessions(part func(cells)) {
	add := func(c cells) { w.add("supersessions", c, supersessionColumns...) }
	id := 0
	next := func() string { id++; return fmt.Sprintf("S%03d", id) }
	for i, a := range assemblies {
		old := a.number(a.revised)
		part(a.smallPart(a.revised-1, old+"A", ", second pattern"))
		add(cells{"id": next(), "old part": old, "new parts": old + "A x1", "effective date": fmt.Sprintf("%d-03-01", 2013+i%10), "two way": yes(i%3 == 0), "text": a.text})
	}
	// A chain of three, ending in a part that is to be had.
	for _, link := range [][4]string{
		{"AP-1060", "AP-1061", "2012", "Longer, for the larger pulley."}, {"AP-1061", "AP-1062", "2016", "Notched, so that it bends cooler."},
		{"AP-1062", "AP-1063", "2021", "Rubber that stands the heat of a closed bonnet."},
	} {
		part(cells{"part": link[1], "title": "Fan belt, pattern " + link[1][6:], "words": synonyms["fan-belt"], "positions": "fan-belt", "unit": "each", "status": "orderable"})
		add(cells{"id": next(), "old part": link[0], "new parts": link[1] + " x1", "effective date": link[2] + "-06-01", "text": link[3]})
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
