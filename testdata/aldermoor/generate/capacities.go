package main

import (
	"fmt"
	"slices"
)

// capacity is a fluid and how much of it belongs at a position.
type capacity struct {
	position, fluid, family, quantity string
	method, neverMix                  string
	when                              when
	caution, doc                      string
}

// Families of fluids that some others must not meet.
const (
	gl4, gl5, slipOil      = "gear-oil-gl4", "gear-oil-gl5", "gear-oil-limited-slip"
	swivelGrease           = "swivel-grease-semi-fluid"
	glycol, silicone       = "brake-fluid-glycol", "brake-fluid-silicone"
	inorganic, organicAcid = "coolant-inorganic", "coolant-organic-acid"
)

var capacityColumns = slices.Concat([]string{"id", "position", "fluid", "family", "quantity", "method", "never mix"}, whenColumns,
	[]string{"caution", "doc ref", "source mark", "sample"})

// capacities writes all fluids. A position has a row for each way in which it
// comes, one of which holds.
func (w *works) capacities() {
	seen := map[string]int{}
	for _, c := range capacityList {
		seen[c.position]++
		row := cells{"id": fmt.Sprintf("%s-%d", c.position, seen[c.position]), "position": c.position, "fluid": c.fluid, "family": c.family,
			"quantity": c.quantity, "method": c.method, "never mix": c.neverMix, "caution": c.caution, "doc ref": c.doc, "source mark": "b", "sample": "yes"}
		c.when.write(row)
		w.add("capacities", row, capacityColumns...)
	}
}

// axleOil is hypoid oil; plates that slip want a modifier in it.
func axleOil(end, kind string) capacity {
	position := end + "-axle-differential"
	c := capacity{position: position, fluid: "SAE 80W-90 API GL-5", family: gl5, quantity: "1.7 l", method: "To the level plug, on level ground.",
		when: fittedWith(position, kind), caution: "Hot oil burns.", doc: "Workshop book H2"}
	if kind == "limited-slip" {
		c.fluid, c.family, c.neverMix, c.doc = "SAE 80W-90 API GL-5 with friction modifier", slipOil, gl5, "Workshop book H3"
		c.caution = "Never run it in gear with one wheel on the ground. Record the batch of the oil."
	}
	return c
}

// swivelFilling is oil to a level, or a fixed charge of grease.
func swivelFilling(side, kind string) capacity {
	position := "swivel-housing-" + side
	c := capacity{position: position, fluid: "SAE 80W-90 API GL-4", family: gl4, quantity: "0.5 l", neverMix: swivelGrease, method: "To the level plug of each side.",
		when: fittedWith(position, kind), caution: "Oil on the brake linings when a seal fails takes the brakes away on that side.", doc: "Workshop book J1"}
	if kind == "grease-filled" {
		c.fluid, c.family, c.quantity, c.neverMix = "NLGI 0/00 lithium-moly semi-fluid grease, fixed charge each side", swivelGrease, "330 g", gl4
		c.method, c.caution = "A fixed charge each side, not to a level.", "A fixed charge, not to a level: an overfilled housing pushes its grease onto the brakes."
	}
	return c
}

func hubGrease(position string) capacity {
	return capacity{position: position, fluid: "NLGI 2 high-temperature grease", family: "grease-high-temperature", quantity: "60 g",
		method: "Packed into the bearings; 240 g for all four hubs.", caution: onStands, doc: "Workshop book J4"}
}

var capacityList = []capacity{
	{position: "engine", fluid: "SAE 20W-50 API SG with zinc and phosphorus for flat tappets", family: "engine-oil", quantity: "5.0 l", method: "With the filter; to the upper mark of the dipstick.", caution: "Hot oil burns. Used oil causes cancer; wear gloves, collect it and hand it in.", doc: "Workshop book A1"},
	{position: "air-cleaner", fluid: "engine oil to the mark", family: "engine-oil", quantity: "0.6 l", method: "To the mark in the bowl.", when: fittedWith("air-cleaner", "oil-bath"), caution: "Do not overfill: the engine draws the oil in and runs on.", doc: "Workshop book A2"},
	{position: "distributor", fluid: "high-melting-point grease", family: "grease-high-temperature", quantity: "1 g", method: "A smear on the cam.", when: fittedWith("distributor", "contact-breaker"), caution: "Ignition off: the coil gives a dangerous shock.", doc: "Workshop book B1"},
	{position: "distributor", fluid: "engine oil", family: "engine-oil", quantity: "0.5 ml", method: "Two drops on the felt.", when: fittedWith("distributor", "electronic"), doc: "Workshop book B3"},
	{position: "cooling-system", fluid: "ethylene glycol 50 % by volume, inorganic class, ASTM D3306", family: inorganic, quantity: "9.0 l", method: "To the neck of the radiator; again when it has been hot.", neverMix: organicAcid, when: fittedWith("cooling-system", "coolant-inorganic"), caution: "Never open the cap hot. Coolant is poisonous and tastes sweet to animals.", doc: "Workshop book C2"},
	{position: "cooling-system", fluid: "ethylene glycol 50 % by volume, organic-acid class, ASTM D3306", family: organicAcid, quantity: "9.0 l", method: "To the mark of the expansion tank; again when it has been hot.", neverMix: inorganic, when: fittedWith("cooling-system", "coolant-organic-acid"), caution: "Never open the cap hot. Coolant is poisonous and tastes sweet to animals.", doc: "Workshop book C2"},
	{position: "carburettor", fluid: "light damper oil", family: "damper-oil", quantity: "5 ml", method: "To 10 mm below the neck of the damper.", caution: fireCaution, doc: "Workshop book D3"},
	{position: "fuel-system", fluid: "petrol, 95 octane, no more than 5 % ethanol", family: "petrol", quantity: "45 l", method: "To the filler neck.", when: when{releases: r1to3}, caution: fireCaution, doc: "Handbook 4"},
	{position: "fuel-system", fluid: "petrol, 95 octane, up to 10 % ethanol", family: "petrol", quantity: "45 l", method: "To the filler neck.", when: when{releases: r4on}, caution: fireCaution, doc: "Handbook 4"},
	{position: "clutch", fluid: "DOT 4", family: glycol, quantity: "0.25 l", method: "To the mark of the reservoir.", neverMix: silicone, when: when{applies: glycolFluid}, caution: "Brake fluid strips paint. Never mix DOT 5 with glycol fluid.", doc: "Workshop book F1"},
	{position: "clutch", fluid: "DOT 5 (silicone)", family: silicone, quantity: "0.25 l", method: "To the mark of the reservoir.", neverMix: glycol, when: when{applies: siliconeFluid}, caution: "Never mix DOT 5 with glycol fluid.", doc: "Workshop book F1"},
	{position: "gearbox", fluid: "SAE 80W-90 API GL-4", family: gl4, quantity: "1.5 l", method: "To the level plug, on level ground.", neverMix: gl5 + "; " + slipOil, caution: "Hot oil burns. GL-5 eats the yellow metal of the synchromesh rings.", doc: "Workshop book G1"},
	{position: "transfer-case", fluid: "SAE 80W-90 API GL-4", family: gl4, quantity: "2.5 l", method: "To the level plug, on level ground.", caution: "Hot oil burns.", doc: "Workshop book G2"},
	{position: "propshaft-front", fluid: "NLGI 2 lithium EP grease", family: "grease-lithium", quantity: "30 g", method: "Until it comes out of all four seals; 60 g for both shafts.", caution: propCaution, doc: "Workshop book H1"},
	{position: "propshaft-rear", fluid: "NLGI 2 lithium EP grease", family: "grease-lithium", quantity: "30 g", method: "Until it comes out of all four seals; 60 g for both shafts.", when: fittedWith("propshaft-rear", "greaseable"), caution: propCaution, doc: "Workshop book H1"},
	axleOil("front", "open"), axleOil("front", "limited-slip"), axleOil("rear", "open"), axleOil("rear", "limited-slip"),
	swivelFilling("left", "oil-filled"), swivelFilling("left", "grease-filled"), swivelFilling("right", "oil-filled"), swivelFilling("right", "grease-filled"),
	hubGrease("hub-front-left"), hubGrease("hub-front-right"), hubGrease("hub-rear-left"), hubGrease("hub-rear-right"),
	{position: "free-wheel-hubs", fluid: "light grease only", family: "grease-light", quantity: "20 g", method: "Thinly, on the dogs; for both.", neverMix: "grease-high-temperature", caution: "Stiff grease holds the dogs apart.", doc: "Workshop book J5"},
	{position: "brakes-front", fluid: "brake grease, on the shoe platforms", family: "brake-grease", quantity: "5 g", method: "A thin film, none on the linings.", when: when{applies: drumFront}, caution: dustCaution, doc: "Workshop book K2"},
	{position: "brakes-front", fluid: "high-temperature slider grease", family: "brake-grease", quantity: "5 g", method: "On the sliders only.", when: when{applies: discFront}, caution: dustCaution, doc: "Workshop book K3"},
	{position: "brake-hydraulics", fluid: "DOT 4", family: glycol, quantity: "0.8 l", method: "Bled at every wheel; to the mark of the reservoir.", neverMix: silicone, when: when{applies: glycolFluid}, caution: "Brake fluid strips paint. Never mix DOT 5 with glycol fluid. The brakes are tested at walking pace before the road.", doc: "Workshop book K1"},
	{position: "brake-hydraulics", fluid: "DOT 5 (silicone)", family: silicone, quantity: "0.8 l", method: "Bled slowly at every wheel; to the mark of the reservoir.", neverMix: glycol, when: when{applies: siliconeFluid}, caution: "Never mix DOT 5 with glycol fluid. The brakes are tested at walking pace before the road.", doc: "Workshop book K1"},
	{position: "steering-box", fluid: "SAE 90", family: gl4, quantity: "0.3 l", method: "To the filler plug.", doc: "Workshop book L3"},
	{position: "steering-linkage", fluid: "SAE 90", family: gl4, quantity: "0.15 l", method: "Into the relay, to the filler plug.", doc: "Workshop book L2"},
	{position: "wipers", fluid: "screen wash, ready mixed", family: "screen-wash", quantity: "1.5 l", method: "To the neck of the bottle.", doc: "Handbook 4"},
	{position: "winch", fluid: "gear lubricant as marked on the winch", family: "winch-lubricant", quantity: "0.2 l", method: "As the plate on the winch says.", caution: "Battery isolated: a winch that starts takes a hand with it.", doc: "Workshop book Q1"},
}
