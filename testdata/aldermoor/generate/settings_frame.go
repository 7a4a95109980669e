package main

import "slices"

// frameSettings are those of steering, springs, frame and body.
var frameSettings = slices.Concat(
	[]setting{
		{position: "steering-box", characteristic: "rim-lash", unit: "mm", lower: "5", target: "12", upper: "20", method: "At the rim, wheels straight; rocker-shaft adjuster, no tight spot at the centre.", tools: "rule", caution: "A box set too tight does not return.", doc: "Workshop book L3"},
		torque("steering-box", "box bolts", "70", "80", "Workshop book L3").mind("A box that comes loose cannot be steered."),
		torque("steering-box", "side-cover bolts", "20", "25", "Workshop book L3"),
		torque("steering-box", "drop-arm nut", "110", "130", "Workshop book L3").how("New locking tab.").mind("An arm that comes loose cannot be steered."),
		torque("steering-box", "steering-wheel nut", "45", "55", "Workshop book L3"),
		torque("steering-linkage", "ball-joint nuts", "40", "50", "Workshop book L2").how("On to the next hole for the pin, never back.").mind("New split pins each time: a joint that comes apart cannot be steered."),
		torque("steering-linkage", "clamp bolts", "20", "25", "Workshop book L2"),
		torque("steering-linkage", "relay bolts", "35", "40", "Workshop book L2"),
		{position: "steering-linkage", characteristic: "toe-in", unit: "mm", lower: "1.0", target: "1.5", upper: "2.0", method: "At the rims, tyres at road pressure.", tools: "tracking gauge", doc: "Workshop book L4"},
		torque("steering-damper", "damper bolts", "55", "65", "Workshop book L5"),
		torque("shock-absorbers", "lower nuts", "35", "45", "Workshop book L5"),
		torque("springs", "shackle bolts", "80", "90", "Workshop book M1").how("With the weight on the wheels."),
		torque("springs", "hanger bolts", "85", "95", "Workshop book M1").how("With the weight on the wheels."),
		{position: "springs", characteristic: "side-to-side-height", unit: "mm", upper: "8", method: "Level ground, unladen, settled.", tools: "rule", caution: "Frame on stands: a spring under load throws its parts.", doc: "Workshop book M1", mark: "c"},
		torque("chassis", "bumper bolts", "70", "80", "Workshop book M2"),
		torque("chassis", "body-mount bolts", "25", "30", "Workshop book M2"),
		torque("seat-belts", "anchor bolts", "35", "45", "Workshop book P6").mind("A belt is only as good as its anchor: never without the plate."),
		torque("body", "door-hinge bolts", "18", "22", "Workshop book R2"),
		torque("body", "windscreen-hinge bolts", "22", "26", "Workshop book R2"),
		torque("hard-top", "hard-top bolts", "12", "15", "Workshop book R3"),
	},
	both(torque("springs", "U-bolts", "80", "95", "Workshop book M1").how("Crosswise; again after 500 miles.").mind("A loose axle steers by itself. Stands under the frame."), "95", "110"),
	both(torque("chassis", "crossmember bolts", "75", "85", "Workshop book M2"), "80", "90"),
	both(torque("tow-hitch", "hitch bolts", "190", "210", "Workshop book M3").mind("A hitch that comes off kills: new nuts each time."), "200", "220"),
)

// electricSettings are those of what the battery drives.
var electricSettings = []setting{
	{position: "battery", characteristic: "rest-voltage", unit: "V", lower: "12.6", upper: "13.0", method: "As fitted, after 24 h rest, nothing switched on.", tools: "voltmeter", caution: "Fit no spark near it; mind the polarity.", doc: "Workshop book P1"},
	torque("battery", "terminals", "5", "7", "Workshop book P1").mind("Earth lead off first and on last."),
	{position: "alternator", characteristic: "charging-voltage", unit: "V", lower: "13.8", target: "14.2", upper: "14.6", method: "2,000 rev/min, lamps on.", tools: "voltmeter", caution: "Hands and clothes clear of fan and belt.", doc: "Workshop book P2"},
	torque("alternator", "pivot bolt", "22", "27", "Workshop book P2"),
	torque("alternator", "pulley nut", "55", "65", "Workshop book P2"),
	torque("starter", "starter bolts", "42", "50", "Workshop book P2").mind("Battery isolated."),
	{position: "lamps", characteristic: "dip", subject: "headlamps", unit: "%", lower: "1.0", target: "1.2", upper: "1.5", method: "Unladen, tyres at road pressure, on a screen at 10 m.", tools: "beam tester", doc: "Workshop book P3"},
	torque("wipers", "spindle nuts", "5", "7", "Workshop book P3"),
	{position: "speedometer", characteristic: "factor", unit: "true/indicated", lower: "0.96", target: "0.98", upper: "1.00", method: "By the choice of drive gears.", tools: "measured distance or satellite receiver", caution: "Measured by a passenger, not the driver.", doc: "Workshop book P4"},
	torque("heater", "heater bolts", "5", "7", "Workshop book C4"),
	torque("winch", "mounting bolts", "42", "48", "Workshop book Q1").mind(ropeCaution),
	torque("winch", "terminal nuts", "10", "12", "Workshop book Q1").mind("Battery isolated: the cables carry hundreds of amperes."),
	{position: "winch", characteristic: "wraps-on-drum", unit: "wraps", lower: "5", when: when{options: "winch"}, method: "Rope out to its mark.", caution: ropeCaution, doc: "Workshop book Q1"},
	{position: "winch", characteristic: "wraps-on-drum", unit: "wraps", lower: "8", when: when{options: "winch-synthetic"}, method: "Rope out to its mark; synthetic rope slips sooner.", caution: ropeCaution, doc: "Workshop book Q1"},
}
