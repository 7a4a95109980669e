package main

import "slices"

// axleSections are the axles with their swivels and hubs.
var axleSections = []section{
	{"front-axle-differential", 3000, all(axle("front"),
		halfShafts("Front half shaft", "drive shaft, inner; axle shaft; halfshaft", "5.2 kg"),
		pair(53, "half-shaft-joint", "Front half-shaft joint", "cv joint; constant velocity joint; universal joint, swivel", "3.3 kg", ""),
		pair(55, "stub-shaft", "Front stub shaft", "stub axle shaft; outer half shaft", "2.9 kg", "teeth 10"),
	)},
	{"rear-axle-differential", 3010, all(axle("rear"),
		halfShafts("Rear half shaft", "axle shaft; halfshaft; drive shaft, rear wheel", "6.4 kg"),
		vary("pinion-spacer", "Pinion bearing spacer, rear axle", "crush tube; collapsible spacer; pinion spacer",
			is(57, "Pinion bearing spacer, collapsible", "0.09 kg", "length 61 mm").with("notes", "Used once.").on(when{lots: "L201202"}).
				because("The axles of February 2012 were built with a collapsible spacer: it follows the lot of the differential, wherever that is now."),
			is(58, "Pinion bearing spacer, solid", "0.14 kg", "length 58 mm").on(other).because("Set with shims.")),
	)},
	{"axle-breathers", 3020, all(
		vary("hose", "Breather hose", "breather pipe; axle breather tube",
			none("The ball breather sits on the axle; a hose belongs to the extended breather of the wading kit.").on(when{without: "wading-kit"}),
			is(11, "Breather hose, wading kit", "0.14 kg", "bore 6 mm; length 1400 mm").of(3).on(when{options: "wading-kit"})),
		vary("clip", "Breather hose clip", "breather clip",
			none("The ball breather has no hose to hold.").on(when{without: "wading-kit"}),
			is(12, "Breather hose clip", "0.01 kg", "").of(12).on(when{options: "wading-kit"})),
		one(13, "union", "Breather union", "breather adaptor", "0.03 kg", "thread 1/8 BSP").of(3),
	)},
	{"swivel-housing-left", 3100, swivel("left")},
	{"swivel-housing-right", 3110, swivel("right")},
	{"swivel-pin-left", 3120, swivelPin("left")},
	{"swivel-pin-right", 3130, swivelPin("right")},
	{"hub-front-left", 3200, hub("front, left")},
	{"hub-front-right", 3210, hub("front, right")},
	{"hub-rear-left", 3220, hub("rear, left")},
	{"hub-rear-right", 3230, hub("rear, right")},
	{"free-wheel-hubs", 3300, all(
		one(11, "body", "Free-wheeling hub body", "freewheel body; fwh body", "1.4 kg", "").of(2),
		one(12, "cap", "Free-wheeling hub cap with selector", "freewheel cap; locking dial; fwh knob", "0.42 kg", "").of(2),
		one(13, "clutch-ring", "Free-wheeling hub clutch ring", "freewheel clutch; locking ring", "0.31 kg", "teeth 20").of(2),
		one(14, "spring", "Free-wheeling hub spring", "freewheel spring", "0.03 kg", "").of(2),
		one(15, "gasket", "Free-wheeling hub gasket", "freewheel gaskit", "0.01 kg", "").of(2).once(),
		one(16, "o-ring", "Free-wheeling hub O-ring", "freewheel o ring; cap seal", "0.003 kg", "bore 58 mm").of(2).once(),
		one(17, "bolt", "Free-wheeling hub bolt", "freewheel bolts", "0.03 kg", "thread M10; length 65 mm").of(12),
		one(18, "circlip", "Free-wheeling hub circlip", "freewheel snap ring", "0.01 kg", "bore 30 mm").of(2),
	)},
}

// halfShafts are those of an axle: the left one is the longer.
func halfShafts(title, words, weight string) spots {
	p := pair(51, "half-shaft", title, words, weight, "")
	p[0], p[1] = p[0].with("sizes", "teeth 10; length 812 mm"), p[1].with("sizes", "teeth 10; length 674 mm")
	return p
}

// axle is what a front and a rear axle have in common. Their differentials
// come open or limited-slip; the crown wheel goes with the ratio.
func axle(end string) []spot {
	of := ", " + end + " axle"
	isOpen, isSlip := fittedWith(end+"-axle-differential", "open"), fittedWith(end+"-axle-differential", "limited-slip")
	openOnly := none("The limited-slip differential has clutch plates in place of it.").on(isSlip)
	slipOnly := none("The open differential has no clutch plates.").on(isOpen)
	return []spot{
		vary("crown-wheel-and-pinion", "Crown wheel and pinion"+of, "ring and pinion; cwp; crownwheel; final drive gears",
			is(11, "Crown wheel and pinion, 4.70"+of, "6.8 kg", "teeth 10/47").on(when{applies: "axle_ratio == 4.70"}).because("Both axles must have the same ratio."),
			is(12, "Crown wheel and pinion, 4.12"+of, "6.9 kg", "teeth 8/33").on(when{applies: "axle_ratio == 4.12"}).because("The longer axle ratio, from R4 on the standard; both axles must have the same ratio.")).with("unit", "set"),
		one(13, "carrier-bearing", "Differential carrier bearing"+of, "diff side bearing; carrier bearing", "0.48 kg", "bore 45 mm; outside 85 mm").of(2),
		one(14, "pinion-tail-bearing", "Pinion bearing, flange end"+of, "outer pinion bearing", "0.44 kg", "bore 30 mm; outside 72 mm"),
		one(15, "pinion-flange", "Pinion flange"+of, "drive flange; diff flange; coupling flange", "1.2 kg", "").mind(propCaution),
		one(16, "pinion-nut", "Pinion nut"+of, "flange nut; pinion lock nut", "0.09 kg", "thread M20x1.5").once(),
		one(17, "pinion-mud-shield", "Pinion mud shield"+of, "mud slinger; dust shield", "0.08 kg", ""),
		one(18, "pinion-shim-set", "Pinion shim set, 0.08 to 0.51 mm"+of, "pinion shims", "0.05 kg", "thickness 0.08-0.51 mm"),
		one(19, "carrier-shim-set", "Carrier bearing shim set"+of, "backlash shims; side shims", "0.06 kg", "thickness 0.08-0.51 mm"),
		vary("side-gear", "Differential side gear"+of, "side gear; sun gear",
			is(20, "Side gear, open differential"+of, "0.71 kg", "teeth 16").of(2).on(isOpen), openOnly),
		vary("planet-gear", "Differential planet gear"+of, "spider gear; planet pinion",
			is(21, "Planet gear, open differential"+of, "0.32 kg", "teeth 10").of(2).on(isOpen), openOnly),
		vary("cross-pin", "Differential cross pin"+of, "spider shaft; diff pin",
			is(22, "Cross pin, open differential"+of, "0.24 kg", "diameter 19 mm").on(isOpen), openOnly),
		vary("clutch-plate-set", "Clutch plate set, limited slip"+of, "lsd plates; friction plates; limited slip plates",
			is(23, "Clutch plate set, limited slip"+of, "0.92 kg", "").on(isSlip), slipOnly),
		vary("preload-spring-set", "Preload spring set, limited slip"+of, "lsd springs; disc springs",
			is(24, "Preload spring set, limited slip"+of, "0.11 kg", "").on(isSlip), slipOnly),
		one(25, "case", "Axle case"+of, "axle casing; axle tube; banjo case", "38 kg", "").drawn("P-30"),
		one(26, "drain-plug", "Axle drain plug"+of, "diff drain plug; axle plug", "0.05 kg", "thread M18x1.5"),
		one(27, "drain-washer", "Axle drain-plug washer"+of, "diff plug washer; copper washer", "0.004 kg", "bore 18 mm").once(),
		one(28, "level-plug", "Axle level plug"+of, "diff filler plug; level plug", "0.05 kg", "thread M18x1.5"),
		one(29, "differential-nut", "Differential housing nut"+of, "diff nut; diff housing nut", "0.02 kg", "thread M10").of(10),
		one(30, "differential-stud", "Differential housing stud"+of, "diff stud", "0.03 kg", "thread M10; length 32 mm").of(10),
	}
}

// likeFirst gives every place of a section the part that the first of several
// alike sections has there.
func likeFirst(first int, s spot) spot {
	s.fits = slices.Clone(s.fits)
	for i, f := range s.fits {
		if f.n != 0 {
			s.fits[i].number, s.fits[i].n, s.fits[i].part = section{base: first}.number(f), 0, nil
		}
	}
	return s
}

// swivel is a swivel housing; what is the same on both sides has the number of
// the left one.
func swivel(side string) []spot {
	own := func(n int, name, title, words, weight, sizes string) spot {
		return one(n, name, title+", "+side, words, weight, sizes)
	}
	alike := func(s spot) spot {
		s.title += ", " + side
		if side == "right" {
			return likeFirst(3100, s)
		}
		return s
	}
	oil, grease := when{releases: r1to2}, when{releases: r3on}
	return []spot{
		alike(vary("filler-plug", "Swivel filler plug", "swivel level plug; filler plug",
			is(11, "Swivel filler plug", "0.03 kg", "thread 3/8 BSP").on(oil),
			none("A grease-filled housing is charged once, through the ball; it has no filler.").on(grease))),
		alike(vary("level-plug", "Swivel level plug", "swivel oil level; level plug",
			is(12, "Swivel level plug", "0.02 kg", "thread 1/4 BSP").on(oil),
			none("The grease is a fixed charge, not to a level.").on(grease))),
		alike(vary("grease-charge", "Swivel grease, fixed charge", "swivel grease; one shot; semi-fluid grease",
			none("R1 and R2 have oil in the swivel housing: grease must not be mixed with it.").on(oil),
			is(13, "Swivel grease, sachet of 330 g", "0.35 kg", "").on(grease).because("One sachet for each side."))),
		own(14, "steering-arm", "Steering arm", "track rod arm; swivel arm; knuckle arm", "2.6 kg", ""),
		alike(one(15, "steering-arm-stud", "Steering-arm stud", "arm stud", "0.05 kg", "thread M12; length 48 mm").of(4)),
		alike(one(16, "seal-retainer", "Swivel-seal retainer", "seal plate; retaining plate", "0.22 kg", "")),
		alike(one(17, "wiper-seal", "Swivel wiper seal", "felt wiper; wiper ring", "0.04 kg", "")),
		own(18, "lock-stop", "Lock-stop bolt with nut", "steering stop; lock stop", "0.06 kg", "thread M10; length 55 mm"),
		alike(one(19, "ball-bolt", "Swivel-ball bolt", "ball to axle bolt", "0.04 kg", "thread M10; length 35 mm").of(8)),
		alike(one(20, "axle-bush", "Half-shaft bush, in the swivel ball", "stub bush; half shaft bush", "0.05 kg", "bore 32 mm")),
		alike(one(21, "inner-oil-seal", "Half-shaft oil seal, in the swivel ball", "axle to swivel seal; inner seal", "0.04 kg", "bore 40 mm; outside 58 mm")),
		own(22, "stub-axle", "Stub axle", "spindle; stub", "3.4 kg", "").drawn("P-31"),
		alike(one(23, "stub-axle-gasket", "Stub-axle gasket", "stub gaskit; spindle gasket", "0.01 kg", "").once()),
		alike(one(24, "stub-axle-bolt", "Stub-axle bolt", "stub bolts", "0.03 kg", "thread M10; length 28 mm").of(6)),
	}
}

// swivelPin has shims that are the same on both sides.
func swivelPin(side string) []spot {
	p := ", " + side
	return []spot{
		one(11, "upper-pin", "Swivel pin, upper"+p, "top king pin; upper pin", "0.72 kg", "diameter 28 mm"),
		one(12, "lower-pin", "Swivel pin, lower"+p, "bottom king pin; lower pin", "0.68 kg", "diameter 25 mm"),
		one(13, "spring", "Swivel-pin spring"+p, "king pin spring; damping spring", "0.12 kg", ""),
		one(14, "thrust-washer", "Swivel-pin thrust washer"+p, "thrust ring; king pin washer", "0.02 kg", "thickness 2.0 mm"),
		thin("shim-0-08", "Shim, swivel pin, 0.08 mm"+p, "king pin shim; 3 thou shim", "AP-3141"),
		thin("shim-0-13", "Shim, swivel pin, 0.13 mm"+p, "king pin shim; 5 thou shim", "AP-3142"),
		thin("shim-0-25", "Shim, swivel pin, 0.25 mm"+p, "king pin shim; 10 thou shim", "AP-3143"),
		thin("shim-0-76", "Shim, swivel pin, 0.76 mm"+p, "king pin shim; 30 thou shim", "AP-3144"),
	}
}

// hub is one of four; what they share has the number of the first.
func hub(at string) []spot {
	alike := func(s spot) spot {
		s.title += ", " + at
		if at != "front, left" {
			return likeFirst(3200, s)
		}
		return s
	}
	own := func(n int, name, title, words, weight, sizes string) spot {
		return one(n, name, title+", "+at, words, weight, sizes)
	}
	flange := own(19, "drive-flange", "Drive flange", "driving member; hub flange; drive member", "1.3 kg", "teeth 10")
	if at[:5] == "front" {
		flange.fits = []fit{flange.fits[0].on(when{without: "free-wheel-hubs"}),
			none("With free-wheeling hubs there is no drive flange: see the free-wheeling hub.").on(when{options: "free-wheel-hubs"})}
	}
	return []spot{
		own(11, "shell", "Wheel hub, bare", "hub casting; bare hub", "5.8 kg", ""),
		alike(one(12, "nut", "Hub nut", "axle nut; spindle nut", "0.14 kg", "thread M45x1.5")),
		alike(one(13, "nut-washer", "Hub nut washer", "hub thrust washer; keyed washer", "0.03 kg", "bore 45 mm")),
		alike(one(14, "grease-cap", "Hub dust cap", "grease cap; hub cap", "0.05 kg", "outside 62 mm")),
		own(15, "inner-bearing", "Wheel bearing, inner", "inner hub bearing", "0.52 kg", "bore 45 mm; outside 85 mm"),
		own(16, "outer-bearing", "Wheel bearing, outer", "outer hub bearing", "0.44 kg", "bore 41 mm; outside 76 mm"),
		alike(one(17, "drive-flange-bolt", "Drive-flange bolt", "flange bolts", "0.03 kg", "thread M10; length 40 mm").of(6)),
		alike(one(18, "seal-land", "Hub seal land", "distance piece; seal track", "0.12 kg", "outside 58 mm")),
		flange,
	}
}
