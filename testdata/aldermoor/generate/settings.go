package main

import (
	"fmt"
	"slices"
	"strings"
)

// setting is a value that something is set or tightened to when it is put
// together, for some of the vehicles.
type setting struct {
	position, characteristic, subject string
	unit, lower, target, upper        string // an empty target is the middle
	when                              when
	method, tools, caution            string
	doc, mark                         string // an empty mark is "b", trade practice
	shims                             *shimDesign
}

// shimDesign says how a setting answers to shims.
type shimDesign struct {
	sign      string // "adds float" or "takes float"
	loadPerMM string // in the setting's unit, for one that is measured as a load
	largest   string // the most shims in a pack
	rule      string
	sizes     []shimSize
}

type shimSize struct{ thickness, part, stock string }

// outputShims go under the housing of the output shaft's bearings.
var outputShims = &shimDesign{sign: "adds float", largest: "6", rule: "fewest then nearest", sizes: []shimSize{
	{"0.08 mm", "AP-2073", ""}, {"0.13 mm", "AP-2074", "14"}, {"0.25 mm", "AP-2075", ""}, {"0.51 mm", "AP-2076", "6"},
}}

// swivelShims go behind the swivel pin: a thicker pack presses harder.
var swivelShims = &shimDesign{sign: "takes float", loadPerMM: "12", largest: "5", rule: "nearest then fewest", sizes: []shimSize{
	{"0.08 mm", "AP-3141", ""}, {"0.13 mm", "AP-3142", ""}, {"0.25 mm", "AP-3143", "10"}, {"0.76 mm", "AP-3144", "3"},
}}

// Positions that are set alike.
var (
	axles      = []string{"front-axle-differential", "rear-axle-differential"}
	propshafts = []string{"propshaft-front", "propshaft-rear"}
	swivels    = []string{"swivel-housing-left", "swivel-housing-right"}
	swivelPins = []string{"swivel-pin-left", "swivel-pin-right"}
	frontHubs  = []string{"hub-front-left", "hub-front-right"}
	rearHubs   = []string{"hub-rear-left", "hub-rear-right"}
	hubs       = slices.Concat(frontHubs, rearHubs)
)

// torque is a window in newton metres, on dry threads unless told otherwise.
func torque(position, subject, lower, upper, doc string) setting {
	return setting{position: position, characteristic: "torque", subject: subject, unit: "N.m", lower: lower, upper: upper, doc: doc,
		method: "Dry, clean threads.", tools: "torque wrench"}
}

func (s setting) on(w when) setting           { s.when = w; return s }
func (s setting) how(method string) setting   { s.method = method; return s }
func (s setting) mind(caution string) setting { s.caution = caution; return s }
func (s setting) by(tools string) setting     { s.tools = tools; return s }

// both is one window up to R3 and another from R4 on.
func both(s setting, lower, upper string) []setting {
	later := s
	later.lower, later.target, later.upper = lower, "", upper
	return []setting{s.on(when{releases: r1to3}), later.on(when{releases: r4on})}
}

// everywhere is the same at several positions.
func everywhere(positions []string, list ...setting) []setting {
	var out []setting
	for _, s := range list {
		for _, p := range positions {
			s.position = p
			out = append(out, s)
		}
	}
	return out
}

var settingColumns = slices.Concat([]string{"id", "position", "characteristic", "subject", "unit", "lower", "target", "upper"}, whenColumns,
	[]string{"method", "tools", "caution", "doc ref", "source mark", "sample", "shim sign", "load per mm", "largest shim count", "shim rule"})

// settings writes all settings and the shims there are.
func (w *works) settings() {
	seen := map[string]int{}
	for _, s := range slices.Concat(engineSettings, gearboxSettings, axleSettings, brakeSettings, frameSettings, electricSettings) {
		key := strings.TrimRight(s.position+"-"+s.characteristic+"-"+hyphened(s.subject), "-")
		seen[key]++
		w.setting(fmt.Sprintf("%s-%d", key, seen[key]), s)
	}
}

func (w *works) setting(id string, s setting) {
	if s.mark == "" {
		s.mark = "b"
	}
	row := cells{"id": id, "position": s.position, "characteristic": s.characteristic, "subject": s.subject, "unit": s.unit,
		"lower": s.lower, "target": s.target, "upper": s.upper, "method": s.method, "tools": s.tools, "caution": s.caution,
		"doc ref": s.doc, "source mark": s.mark, "sample": "yes"}
	s.when.write(row)
	if d := s.shims; d != nil {
		row["shim sign"], row["load per mm"], row["largest shim count"], row["shim rule"] = d.sign, d.loadPerMM, d.largest, d.rule
		for _, size := range d.sizes {
			w.add("shim sizes", cells{"setting": id, "thickness": size.thickness, "part": size.part, "stock": size.stock}, "setting", "thickness", "part", "stock")
		}
	}
	w.add("settings", row, settingColumns...)
}
