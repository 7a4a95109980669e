package main

import (
	"fmt"
	"slices"
	"strings"
)

var partColumns = []string{"part", "title", "words", "positions", "hand", "unit", "minimum quantity", "status", "drawing", "contents", "renew with", "caution", "notes", "traits", "other numbers", "weight"}

// synonyms are what people say, and how they misspell it.
var synonyms = map[string]string{
	"oil-filter": "oil fliter", "air-cleaner": "air filter; air box", "carburettor": "carburetor; carb; carburetter", "gearbox": "transmission; gear box",
	"transfer-case": "transfer box; transfer gearbox; drop box", "output-shaft-bearing": "output bearing; tail bearing",
	"parking-brake": "handbrake; hand brake; emergency brake", "propshaft-front": "drive shaft; propeller shaft; prop shaft",
	"propshaft-rear": "drive shaft; propeller shaft; prop shaft", "front-axle-differential": "diff; front diff; pumpkin",
	"rear-axle-differential": "diff; rear diff; pumpkin", "swivel-housing-left": "swivel ball; steering knuckle; swival",
	"swivel-housing-right": "swivel ball; steering knuckle; swival", "alternator": "generator; dynamo", "tyres": "tire; tires",
	"spark-plugs": "plug; sparkplug", "fan-belt": "alternator belt; v-belt", "starter": "starter motor", "lamps": "lights; lighting",
	"speedometer": "speedo; odometer; clock", "shock-absorbers": "suspension damper; shocker", "springs": "leaf spring; road spring",
	"clutch": "cluch", "battery": "batery; accumulator", "winch": "wynch", "brakes-front": "front brakes; brake set", "brakes-rear": "rear brakes; brake set",
	"hub-front-left": "wheel hub", "hub-front-right": "wheel hub", "hub-rear-left": "wheel hub", "hub-rear-right": "wheel hub",
	"soft-top": "hood; convertible top; rag top", "exhaust": "exhaust system; exhaust pipe", "distributor": "dizzy", "radiator": "rad", "cooling-system": "radiator; rad; cooler",
}

// cautions stand beside the part that can hurt.
var cautions = map[string]string{
	"brakes-front": dustCaution, "brakes-rear": dustCaution,
	"brake-hydraulics": "Never mix glycol and silicone brake fluids.", "battery": "Fit no spark near it; mind the polarity.",
	"fuel-system": fireCaution, "fuel-hoses": fireCaution,
	"parking-brake":        holdCaution,
	"output-shaft-bearing": propCaution,
	"propshaft-front":      propCaution,
	"propshaft-rear":       propCaution,
	"winch":                ropeCaution, "springs": "Stands under the frame, not under the axle.",
	"rear-axle-differential": "A limited-slip axle turns the wheel that is on the ground.", "front-axle-differential": "A limited-slip axle turns the wheel that is on the ground.",
}

// catalogue writes the parts, where they belong, what replaces what, and what
// everything is filled with and set to.
func (w *works) catalogue() {
	w.stock = newStock()
	w.standing()
	w.releasePositions()
	for _, a := range assemblies {
		w.assembly(a)
	}
	for _, s := range slices.Concat(engineSections, coolingSections, gearboxSections, axleSections, brakeSections, steeringSections,
		frameSections, bodySections, electricSections, lampSections, extraSections) {
		for _, p := range s.spots {
			w.place(s, p)
		}
	}
	for _, c := range handMadeParts {
		w.stock.part(c)
	}
	w.supersessions()
	w.stock.write(w)
	w.settings()
	w.capacities()
}

// standing takes in the parts that the releases themselves name.
func (w *works) standing() {
	for _, p := range places {
		for r := range releases {
			c := cells{
				"part": p.part(r), "title": describe(p.title, p.traitsIn(r)), "words": synonyms[p.position], "positions": p.position,
				"hand": hand(p.position), "unit": unitOf(p.title), "status": status(p.part(r)), "drawing": drawings[p.part(r)],
				"caution": cautions[p.position], "renew with": renewals(p.position, p.part(r)), "traits": traitWords(p.traitsIn(r)), "weight": weights[p.part(r)],
			}
			if r == 0 {
				c["other numbers"] = fmt.Sprintf("57-%d", p.base) // from the first list of the works
			}
			w.stock.part(c)
		}
	}
	for _, o := range optionList {
		for _, f := range o.fitments {
			w.stock.part(cells{
				"part": f.part, "title": f.title, "words": synonyms[f.position], "positions": f.position, "unit": unitOf(f.title), "status": "orderable",
				"caution": cautions[f.position], "renew with": renewals(f.position, f.part), "traits": traitWords(f.traits), "weight": weights[f.part],
			})
		}
	}
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
