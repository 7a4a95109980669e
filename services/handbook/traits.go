package handbook

import (
	"regexp"
	"strings"

	"halfshaft/services/parts"
	"halfshaft/services/wording"
)

// traitWords are the usual traits of the catalogue as a mechanic says them. One
// that is not here is said by its identifier.
var traitWords = map[string]string{
	"adjustable-tappets":     "adjustable tappets",
	"agm":                    "AGM",
	"ball":                   "ball valve",
	"coolant-inorganic":      "inorganic coolant",
	"coolant-organic-acid":   "organic-acid coolant",
	"cupro-nickel":           "pipes of cupro-nickel",
	"damper":                 "with a damper",
	"ethanol-fuel":           "made for ethanol",
	"extended":               "extended by hoses",
	"flooded":                "flooded, topped up with water",
	"glycol-dot4":            "glycol fluid, DOT 4",
	"greaseable":             "with grease nipples",
	"hydraulic":              "worked by fluid",
	"mechanical":             "worked by rods or a cable",
	"no-retorque-gasket":     "gasket that is not tightened again",
	"retorque-gasket":        "gasket that is tightened again",
	"rubber":                 "plain rubber",
	"shimmed":                "set with shims",
	"shimmed-output-bearing": "output bearing set with shims",
	"silicone-dot5":          "silicone fluid, DOT 5",
	"spin-on":                "spin-on canister",
	"element":                "element in a bowl",
	"synchro-3-4":            "third and fourth synchronised",
	"synchro-all":            "all forward gears synchronised",
	"synthetic":              "synthetic rope",
	"wire":                   "wire rope",
	"parking-brake":          "parking brake on the output",
	"alloy":                  "of light alloy",
	"open":                   "open, not limited-slip",
	"manual":                 "turned by hand",
	"fixed-jet":              "fixed jets",
	"inline-filter":          "filter in the pipe",
}

// familyWords are the usual families of fluids as they stand on a can.
var familyWords = map[string]string{
	"brake-fluid-glycol":       "glycol brake fluid (DOT 3, 4 or 5.1)",
	"brake-fluid-silicone":     "silicone brake fluid (DOT 5)",
	"coolant-inorganic":        "inorganic coolant",
	"coolant-organic-acid":     "organic-acid coolant",
	"gear-oil-gl4":             "GL-4 gear oil",
	"gear-oil-gl5":             "GL-5 gear oil",
	"gear-oil-limited-slip":    "limited-slip gear oil",
	"grease-high-temperature":  "high-temperature grease",
	"swivel-grease-semi-fluid": "semi-fluid swivel grease",
}

// eventWords are what happens to a vehicle as its owner says it.
var eventWords = map[string]string{
	"lay up":             "Put away for the season",
	"recommission":       "Brought back after lay-up",
	"head gasket":        "New head gasket",
	"wading":             "Driven through water",
	"wading plug fitted": "Wading plug put in",
	"salt":               "Beach or salted roads",
	"wheel refitted":     "Wheel put back on",
	"tyres let down":     "Tyres let down",
	"road speed change":  "Other tyres, axle ratio or speedometer",
	"hard winching":      "Hard pull with the winch",
}

// grade is a word of an identifier that people write in capitals: "gl5", "dot4".
var grade = regexp.MustCompile(`\b(gl|dot)([0-9])`)

// between are figures that stand beside each other: "synchro-3-4".
var between = regexp.MustCompile(`([0-9])-([0-9])`)

// spokenWords is an identifier of the catalogue in words.
func spokenWords(id string) string {
	id = between.ReplaceAllString(id, "$1+$2")
	return grade.ReplaceAllStringFunc(strings.ReplaceAll(id, "-", " "), strings.ToUpper)
}

// worded is an identifier as it is usually said, and otherwise itself in words.
func worded(usual map[string]string, id string) string {
	if text, ok := usual[id]; ok {
		return text
	}
	return spokenWords(id)
}

func place(position string) string { return wording.UpperFirst(parts.Spoken(position)) }
