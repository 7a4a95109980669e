package main

import "strings"

// smallFits are the small parts of assemblies.go that do not belong on every
// vehicle that has the assembly.
var smallFits = map[string]func(fit) []fit{
	"distributor/shaft seal": func(f fit) []fit {
		return []fit{f.on(when{with: "AP-1040"}), f.on(when{with: "AP-1041"}), none(ownIgnition).on(other)}
	},
	"distributor/rotor arm": func(f fit) []fit {
		return []fit{f.on(when{with: "AP-1040"}).because("Only together with the contact-breaker distributor AP-1040."),
			is(31, "Rotor arm, electronic distributor", "0.02 kg", "").on(when{with: "AP-1041"}), none(ownIgnition).on(other)}
	},
	"distributor/cap clip set": func(f fit) []fit {
		return []fit{f.on(when{with: "AP-1040"}), f.on(when{with: "AP-1041"}), none(ownIgnition).on(other)}
	},
	"distributor/distributor cap": func(f fit) []fit {
		return []fit{f.on(when{with: "AP-1040"}),
			is(32, "Distributor cap, electronic", "0.13 kg", "").on(when{with: "AP-1041"}), none(ownIgnition).on(other)}
	},
	"distributor/condenser": func(f fit) []fit {
		return []fit{f.on(when{with: "AP-1040"}), none("The electronic distributor has no condenser.").on(when{with: "AP-1041"}), none(ownIgnition).on(other)}
	},
	"propshaft-rear/gaiter":          untilSealed,
	"propshaft-rear/spline seal":     untilSealed,
	"propshaft-rear/universal joint": untilSealed,
	"propshaft-rear/grease nipple":   untilSealed,

	"brakes-front/wheel-cylinder gasket":   whileDrum,
	"brakes-front/wheel-cylinder seal kit": whileDrum,
	"brakes-front/wheel cylinder":          whileDrum,
	"brakes-front/return-spring set":       whileDrum,
	"brakes-front/adjuster":                whileDrum,

	"fuel-system/sediment-bowl seal": untilInline,
	"fuel-system/strainer":           untilInline,
	"springs/spring bush": func(f fit) []fit {
		return []fit{f.on(when{releases: r1to2}), is(31, "Leaf spring: spring bush, bronze", "0.14 kg", "outside 38 mm").on(when{releases: r3on})}
	},
}

func untilSealed(f fit) []fit {
	return []fit{f.on(when{releases: r1to4}), none(sealedForLife).on(when{releases: r5})}
}

func whileDrum(f fit) []fit {
	return []fit{f.on(when{applies: drumFront}), none(drumOnly).on(when{applies: discFront})}
}

func untilInline(f fit) []fit {
	return []fit{f.on(when{releases: r1to2}), none("From R3 an inline filter stands in place of the sediment bowl.").on(when{releases: r3on})}
}

// ownKits are the kits of parts that have other small parts than the first at
// their position.
var ownKits = map[string]string{
	"AP-1041": "AP-10419", "AP-1101": "AP-11019", "AP-2111": "AP-21119", "AP-4005": "AP-40059", "AP-5041": "AP-50419",
}

// smallSize gives what a small part of that name weighs about, and its size.
func smallSize(name string) (weight, sizes string) {
	for _, s := range []struct{ word, weight, sizes string }{
		{"gasket", "0.02 kg", "thickness 0.4 mm"}, {"bolt set", "0.24 kg", "thread M8"}, {"stud set", "0.40 kg", "thread 9/16 UNF"},
		{"screw set", "0.03 kg", "thread M5"}, {"seal kit", "0.03 kg", ""}, {"door seal", "1.4 kg", ""}, {"seal", "0.04 kg", ""},
		{"bearing set", "0.62 kg", ""}, {"bearing", "0.48 kg", ""}, {"tab", "0.01 kg", "thickness 1.0 mm"}, {"plate", "0.9 kg", ""},
		{"chain", "0.42 kg", "pitch 9.525 mm"}, {"ball joint", "0.62 kg", "thread M20x1.5"}, {"swivel ball", "7.8 kg", ""}, {"joint", "0.66 kg", ""},
		{"bush", "0.05 kg", ""}, {"washer", "0.02 kg", ""}, {"pump", "1.9 kg", ""}, {"motor", "0.9 kg", ""}, {"spring", "0.08 kg", ""},
		{"shoe set", "1.1 kg", "width 57 mm"}, {"cylinder", "0.82 kg", "bore 31.8 mm"}, {"drain plug", "0.03 kg", "thread 1/4 BSP"},
		{"nut", "0.03 kg", "thread 3/8 UNF"}, {"nipple", "0.004 kg", "thread M6"}, {"screw", "0.02 kg", "thread M10x1"},
	} {
		if strings.Contains(strings.ToLower(name), s.word) {
			return s.weight, s.sizes
		}
	}
	return "0.05 kg", ""
}
