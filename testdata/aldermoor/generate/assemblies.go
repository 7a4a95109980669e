package main

import (
	"fmt"
	"strings"
)

// assembly is a thing at a position that is taken apart, with the small parts
// of its overhaul kit.
type assembly struct {
	position string
	small    [6]string // "title|other words"; numbered after the assembly: its number times ten, plus 1 to 6
	revised  int       // which of them, from 1, got a second pattern
	text     string    // why
}

// assemblies are in the order in which their second patterns are numbered.
var assemblies = []assembly{
	{"engine", [6]string{"sump gasket|oil pan gasket; gaskit", "rear main oil seal|crankshaft seal, flywheel end; rear crank seal", "main-bearing set|crank bearing; bearing shells", "sump bolt set|oil pan bolts", "flywheel locking tab|lock tab; tab washer", "timing chain|cam chain"}, 1, "Cork gave way to bonded rubber."},
	{"carburettor", [6]string{"flange gasket|carb gasket; gaskit", "spindle seal|throttle spindle seal", "needle valve|float valve", "cover screw set|screws", "float-bowl washer|fibre washer", "main jet|jet"}, 2, "The old seal hardened with ethanol in the fuel."},
	{"fuel-system", [6]string{"pump gasket|fuel pump gasket; gaskit", "sender seal|tank sender seal", "pump diaphragm|diafram", "clip set|fuel hose clips", "sediment-bowl seal|bowl seal; glass bowl seal", "strainer|gauze; fuel filter"}, 3, "The old diaphragm hardened with ethanol in the fuel."},
	{"clutch", [6]string{"housing gasket|bell housing gasket; gaskit", "slave-cylinder seal kit|slave cylinder; clutch cylinder", "release bearing|throw-out bearing; thrust bearing", "cover bolt set|pressure plate bolts", "friction plate|clutch plate; driven plate", "spigot bush|pilot bush; pilot bearing"}, 4, "Bolts of a higher grade."},
	{"gearbox", [6]string{"top-cover gasket|gear box gasket; gaskit", "input-shaft oil seal|front seal; oilseal", "main-shaft bearing|gearbox bearing", "cover bolt set|bolts", "main-shaft locking tab|lock tab; tab washer", "selector bush|gear lever bush"}, 1, "Paper gave way to a coated gasket that does not weep."},
	{"transfer-case", [6]string{"case gasket|transfer box gasket; gaskit", "output oil seal|output seal; oilseal", "intermediate-gear bearing|intermediate bearing; needle roller", "cover bolt set|bolts", "intermediate-shaft locking plate|lock plate", "thrust washer|thrust ring"}, 2, "Second lip against dust."},
	{"output-shaft-bearing", [6]string{"housing gasket|gaskit", "oil seal|output shaft seal; oilseal", "dust shield|mud shield", "housing bolt set|bolts", "locking tab|lock tab; tab washer", "spacer|distance piece; distance collar"}, 3, "Pressed instead of turned."},
	{"parking-brake", [6]string{"back-plate gasket|gaskit", "expander seal|adjuster seal", "shoe set|handbrake shoes; linings", "return-spring set|springs", "adjuster locking clip|clip", "lever bush|bushing"}, 4, "A fifth spring holds the shoes off the drum."},
	{"propshaft-front", [6]string{"gaiter|boot; rubber boot", "spline seal|felt seal", "universal joint|uj; u-joint; cross", "flange bolt set|bolts", "flange locking nut|nylon nut; self-locking nut", "grease nipple|zerk; grease fitting"}, 1, "Rubber that stands oil."},
	{"propshaft-rear", [6]string{"gaiter|boot; rubber boot", "spline seal|felt seal", "universal joint|uj; u-joint; cross", "flange bolt set|bolts", "flange locking nut|nylon nut; self-locking nut", "grease nipple|zerk; grease fitting"}, 2, "Two lips instead of felt."},
	{"front-axle-differential", [6]string{"axle-case gasket|diff gasket; gaskit", "pinion oil seal|pinion seal; oilseal", "pinion bearing|diff bearing", "crown-wheel bolt set|ring gear bolts", "crown-wheel locking tab|lock tab; tab washer", "thrust washer|side gear washer"}, 3, "Taper angle changed; fits as the old one did."},
	{"rear-axle-differential", [6]string{"axle-case gasket|diff gasket; gaskit", "pinion oil seal|pinion seal; oilseal", "pinion bearing|diff bearing", "crown-wheel bolt set|ring gear bolts", "crown-wheel locking tab|lock tab; tab washer", "thrust washer|side gear washer"}, 4, "Bolts of a higher grade."},
	{"swivel-housing-left", [6]string{"flange gasket|swivel gasket; gaskit", "ball oil seal|swivel seal; big seal; swivle seal; swivel ball seal", "swivel ball|chrome ball; ball", "seal-retainer bolt set|bolts", "steering-arm locking tab|lock tab; tab washer", "drain plug|swivel plug"}, 1, "Paper gave way to a coated gasket."},
	{"swivel-housing-right", [6]string{"flange gasket|swivel gasket; gaskit", "ball oil seal|swivel seal; big seal; swivle seal; swivel ball seal", "swivel ball|chrome ball; ball", "seal-retainer bolt set|bolts", "steering-arm locking tab|lock tab; tab washer", "drain plug|swivel plug"}, 2, "A garter spring holds the lip on the ball."},
	{"swivel-pin-left", [6]string{"cap gasket|gaskit", "pin seal|o-ring; o ring", "lower bearing|king pin bearing; kingpin bearing", "cap bolt set|bolts", "cap locking tab|lock tab; tab washer", "upper bush|king pin bush"}, 3, "Caged rollers."},
	{"swivel-pin-right", [6]string{"cap gasket|gaskit", "pin seal|o-ring; o ring", "lower bearing|king pin bearing; kingpin bearing", "cap bolt set|bolts", "cap locking tab|lock tab; tab washer", "upper bush|king pin bush"}, 4, "Bolts of a higher grade."},
	{"hub-front-left", [6]string{"drive-flange gasket|hub gasket; gaskit", "hub oil seal|hub seal; oilseal", "wheel-bearing set|wheel bearing; bearings", "wheel-stud set|studs; wheel studs", "lock-nut tab|lock tab; tab washer", "hub spacer|distance collar"}, 1, "Coated gasket."},
	{"hub-front-right", [6]string{"drive-flange gasket|hub gasket; gaskit", "hub oil seal|hub seal; oilseal", "wheel-bearing set|wheel bearing; bearings", "wheel-stud set|studs; wheel studs", "lock-nut tab|lock tab; tab washer", "hub spacer|distance collar"}, 2, "Second lip against water."},
	{"hub-rear-left", [6]string{"drive-flange gasket|hub gasket; gaskit", "hub oil seal|hub seal; oilseal", "wheel-bearing set|wheel bearing; bearings", "wheel-stud set|studs; wheel studs", "lock-nut tab|lock tab; tab washer", "hub spacer|distance collar"}, 3, "Taper angle changed; fits as the old one did."},
	{"hub-rear-right", [6]string{"drive-flange gasket|hub gasket; gaskit", "hub oil seal|hub seal; oilseal", "wheel-bearing set|wheel bearing; bearings", "wheel-stud set|studs; wheel studs", "lock-nut tab|lock tab; tab washer", "hub spacer|distance collar"}, 4, "Longer by 3 mm, for wheels of pressed steel."},
	{"brakes-front", [6]string{"wheel-cylinder gasket|gaskit", "wheel-cylinder seal kit|brake cylinder seals", "wheel cylinder|brake cylinder", "return-spring set|brake springs", "adjuster|snail cam", "bleed screw|bleed nipple"}, 1, "Comes with a coated face."},
	{"brakes-rear", [6]string{"wheel-cylinder gasket|gaskit", "wheel-cylinder seal kit|brake cylinder seals", "wheel cylinder|brake cylinder", "return-spring set|brake springs", "adjuster|snail cam", "bleed screw|bleed nipple"}, 2, "Rubber that stands both kinds of fluid; that does not make them mix."},
	{"steering-box", [6]string{"side-cover gasket|gaskit", "rocker-shaft oil seal|sector shaft seal; oilseal", "worm bearing set|ball race; bearings", "cover bolt set|bolts", "drop-arm locking tab|lock tab; pitman arm tab", "rocker-shaft bush|sector shaft bush"}, 3, "Balls in a cage, so that none is lost."},
	{"steering-linkage", [6]string{"relay gasket|gaskit", "joint gaiter|ball joint boot; rubber boot", "ball joint, right-hand thread|track rod end; tie rod end", "clamp bolt set|bolts", "split-pin set|cotter pins; split pins", "relay bush|relay bushing"}, 4, "Bolts of a higher grade."},
	{"springs", [6]string{"interleaf liner|liner", "shackle-pin seal|o-ring; o ring", "shackle pin|shackle bolt", "U-bolt set|u bolts", "rebound clip|spring clip", "spring bush|bushing; rubber bush"}, 1, "Does not squeak."},
	{"alternator", [6]string{"bracket shim|packing", "end-cover seal|o-ring", "bearing set|bearings", "mounting bolt set|bolts", "pulley lock washer|spring washer", "brush set|brushes"}, 2, "Keeps salt out of the rear bearing."},
	{"starter", [6]string{"flange shim|packing", "solenoid seal|solenoid gaiter", "bush set|bushes", "mounting bolt set|bolts", "pinion circlip|clip", "brush set|brushes"}, 3, "Sintered bushes."},
	{"cooling-system", [6]string{"thermostat gasket|gaskit", "water-pump seal|pump seal", "water pump|coolant pump", "pump bolt set|bolts", "radiator cap|pressure cap; rad cap", "thermostat|stat"}, 4, "Stainless."},
	{"exhaust", [6]string{"manifold gasket|gaskit", "flange sealing ring|olive; doughnut", "hanger|exhaust mount; rubber mount", "clamp set|clamps; u clamp", "manifold locking tab|lock tab; tab washer", "heat shield|shield"}, 1, "Reinforced with steel."},
	{"body", [6]string{"bulkhead gasket|gaskit", "door seal set|door rubber; weather strip", "hinge, front door|door hinge", "capping rivet set|rivets", "door-check strap|check strap", "mounting rubber|body mount"}, 2, "Sponge rubber with a skin."},
	{"heater", [6]string{"matrix gasket|gaskit", "tap seal|o-ring", "blower motor|fan motor", "hose-clip set|clips", "cable clip|clip", "heater tap|heater valve"}, 3, "Quieter."},
	{"distributor", [6]string{"clamp-plate gasket|gaskit", "shaft seal|o-ring; o ring", "rotor arm|rotor", "cap clip set|clips", "distributor cap|dizzy cap; cap", "condenser|capacitor"}, 4, "Stainless."},
}

// number gives the number of the small part at a place from 1, or of the kit,
// which has place 9. The output shaft's kit is older than the others and has a
// number of its own.
func (a assembly) number(place int) string {
	if place == kitPlace && a.position == "output-shaft-bearing" {
		return "AP-2070"
	}
	return fmt.Sprintf("AP-%d", placeNamed(a.position).base*10+place)
}

const kitPlace = 9

// assembly writes the small parts of an assembly, the places at which they
// stand, and the kit that holds them.
func (w *works) assembly(a assembly) {
	place := placeNamed(a.position)
	s := section{in: a.position, base: place.base}
	var held []string
	for i := range a.small {
		number := a.number(i + 1)
		w.stock.part(a.smallPart(i, number))
		held = append(held, fmt.Sprintf("%s x%d", number, a.count(i)))
		name, words, _ := strings.Cut(a.small[i], "|")
		fits := []fit{same(number).of(a.count(i))}
		if special := smallFits[a.position+"/"+name]; special != nil {
			fits = special(fits[0])
		}
		title := strings.ToUpper(name[:1]) + name[1:] + ", " + strings.ReplaceAll(a.position, "-", " ")
		w.place(s, spot{name: placeName(name), title: title, words: words, fits: fits})
	}
	if a.position == "output-shaft-bearing" {
		return // its kit is among the hand-made parts
	}
	w.stock.part(cells{
		"part": a.number(kitPlace), "title": place.title + ": overhaul kit", "words": "fitting kit; service kit; repair kit", "positions": a.position,
		"hand": hand(a.position), "unit": "set", "status": "orderable", "contents": strings.Join(held, "; "), "caution": cautions[a.position],
	})
}

// placeName makes the name of a position from that of a small part. A direction
// in it would be taken for the side of the vehicle.
func placeName(name string) string {
	switch name {
	case "ball joint, right-hand thread":
		return "ball-joint"
	case "hinge, front door":
		return "door-hinge"
	}
	return hyphened(name)
}

// hyphened writes words as a name.
func hyphened(words string) string {
	return strings.ToLower(strings.ReplaceAll(strings.ReplaceAll(words, ",", ""), " ", "-"))
}

func (a assembly) smallPart(i int, number string) cells {
	name, words, _ := strings.Cut(a.small[i], "|")
	unit := "each"
	if strings.Contains(name, "set") || strings.Contains(name, "kit") {
		unit = "set"
	}
	c := cells{
		"part": number, "title": placeNamed(a.position).title + ": " + name, "words": words, "positions": a.position,
		"hand": hand(a.position), "unit": unit, "status": "orderable",
	}
	c["weight"], c["sizes"] = smallSize(name)
	if strings.Contains(name, "tab") {
		c["minimum quantity"] = "2"
		c["notes"] = "Used once: a tab that was bent twice breaks."
	}
	return c
}

// count is how many of a small part a kit holds, and the assembly has.
func (a assembly) count(i int) int {
	if name, _, _ := strings.Cut(a.small[i], "|"); strings.Contains(name, "tab") {
		return 2
	}
	return 1
}

// renewals are what must be new whenever the thing is apart: its kit. The
// output shaft asks for the old shim pack, which a kit replaced.
func renewals(position, part string) string {
	if kit := ownKits[part]; kit != "" {
		return kit + " x1"
	}
	for _, a := range assemblies {
		switch {
		case a.position != position:
		case position == "output-shaft-bearing":
			return "AP-2072 x1"
		default:
			return a.number(kitPlace) + " x1"
		}
	}
	if position == "chassis" {
		return "AP-5050 x1; AP-5051 x1"
	}
	return ""
}
