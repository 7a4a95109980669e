package main

import "strings"

// releasePositions writes what is known of the positions that the releases
// name, and who gets something else there than the release says.
func (w *works) releasePositions() {
	for _, p := range places {
		title, _, _ := strings.Cut(p.title, ", rebuilt")
		w.releasePosition(p.position, title)
	}
	for _, o := range [][2]string{
		{"free-wheel-hubs", "Free-wheeling hubs"}, {"winch", "Winch"}, {"soft-top", "Soft top"}, {"hard-top", "Hard top"}, {"tow-hitch", "Tow hitch"},
	} {
		w.releasePosition(o[0], o[1])
	}
	w.apply("heater", 1, "AP-6071", fit{when: twinHeater,
		text: "These serials were built with the heater that has two outlets; two among them got the ordinary one."})
	w.stock.at("AP-6071", "heater")
}

func (w *works) releasePosition(position, title string) {
	w.add("positions", cells{"position": position, "title": title, "words": synonyms[position], "tools": tools[position],
		"caution": cautions[position]}, positionColumns...)
}

// twinHeater holds for the serials that were built with the other heater.
var twinHeater = when{first: "AM0135X", last: "AM0142Z", except: "AM0138R; AM01410"}

// tools are special ones, for work on the assembly as a whole.
var tools = map[string]string{
	"engine": "engine crane; engine stand", "cylinder-head": "torque wrench; valve-spring compressor", "distributor": "dwell meter; timing lamp",
	"clutch": "clutch alignment shaft", "gearbox": "gearbox jack", "transfer-case": "gearbox jack; two-pin peg spanner",
	"output-shaft-bearing": "dial gauge with magnetic foot; spring balance 100 N; torque wrench", "parking-brake": "stands; chocks",
	"front-axle-differential": "stands; dial gauge", "rear-axle-differential": "stands; dial gauge",
	"swivel-housing-left": "seal driver; stands", "swivel-housing-right": "seal driver; stands",
	"swivel-pin-left": "spring balance 0-10 kgf; stands", "swivel-pin-right": "spring balance 0-10 kgf; stands",
	"hub-front-left": "hub spanner; dial gauge", "hub-front-right": "hub spanner; dial gauge", "hub-rear-left": "hub spanner; dial gauge", "hub-rear-right": "hub spanner; dial gauge",
	"brake-hydraulics": "bleed bottle; flare-nut spanner", "steering-box": "drop-arm puller", "steering-linkage": "ball-joint splitter; screw press for the relay",
	"springs": "stands under the frame; torque wrench", "tyres": "bead breaker", "winch": "gloves; rope damper",
}
