package main

import (
	"fmt"
	"strings"
)

// place is one position of the standard vehicle and how it went through the
// releases.
type place struct {
	position string
	title    string
	base     int      // number of the part in the first release
	traits   []string // of each release from R1 to R5; a shorter list goes on with its last
	quantity int
}

// The part at a position gets a new number when its traits change: the base,
// then one more for each change. "a+b" are two traits.
var places = []place{
	{"engine", "Engine, four-cylinder, rebuilt", 1000, []string{"adjustable-tappets"}, 1},
	{"oil-filter", "Oil filter", 1010, []string{"element", "element", "spin-on"}, 1},
	{"air-cleaner", "Air cleaner", 1020, []string{"oil-bath", "oil-bath", "paper-element"}, 1},
	{"cylinder-head", "Cylinder head", 1030, []string{"retorque-gasket", "retorque-gasket", "retorque-gasket", "no-retorque-gasket"}, 1},
	{"distributor", "Distributor", 1040, []string{"contact-breaker", "contact-breaker", "contact-breaker", "electronic"}, 1},
	{"spark-plugs", "Spark plug", 1050, []string{""}, 4},
	{"fan-belt", "Fan belt", 1060, []string{""}, 1},
	{"cooling-system", "Radiator", 1070, []string{"coolant-inorganic", "coolant-inorganic", "coolant-organic-acid"}, 1},
	{"coolant-hoses", "Coolant hose set", 1080, []string{""}, 1},
	{"carburettor", "Carburettor", 1090, []string{"damper"}, 1},
	{"fuel-system", "Fuel pump and filter", 1100, []string{"sediment-bowl", "sediment-bowl", "inline-filter"}, 1},
	{"fuel-hoses", "Fuel hose set", 1110, []string{"rubber", "rubber", "rubber", "rubber+ethanol-fuel"}, 1},
	{"exhaust", "Exhaust system", 1120, []string{""}, 1},
	{"clutch", "Clutch assembly", 1130, []string{"hydraulic"}, 1},
	{"gearbox", "Gearbox, four-speed", 1200, []string{"synchro-3-4", "synchro-3-4", "synchro-3-4", "synchro-all"}, 1},
	{"transfer-case", "Transfer case, two-speed", 2000, []string{"shimmed-output-bearing+parking-brake"}, 1},
	{"output-shaft-bearing", "Output-shaft bearing set", 2040, []string{"shimmed"}, 1},
	{"parking-brake", "Transmission brake", 2060, []string{""}, 1},
	{"propshaft-front", "Front propshaft", 2100, []string{"greaseable"}, 1},
	{"propshaft-rear", "Rear propshaft", 2110, []string{"greaseable", "greaseable", "greaseable", "greaseable", "sealed"}, 1},
	{"front-axle-differential", "Front differential", 3000, []string{"open"}, 1},
	{"rear-axle-differential", "Rear differential", 3010, []string{"open"}, 1},
	{"axle-breathers", "Axle breather", 3020, []string{"ball"}, 3},
	{"swivel-housing-left", "Swivel housing, left", 3100, []string{"oil-filled", "oil-filled", "grease-filled"}, 1},
	{"swivel-housing-right", "Swivel housing, right", 3110, []string{"oil-filled", "oil-filled", "grease-filled"}, 1},
	{"swivel-pin-left", "Swivel pin, left", 3120, []string{"shimmed"}, 1},
	{"swivel-pin-right", "Swivel pin, right", 3130, []string{"shimmed"}, 1},
	{"hub-front-left", "Front hub, left", 3200, []string{""}, 1},
	{"hub-front-right", "Front hub, right", 3210, []string{""}, 1},
	{"hub-rear-left", "Rear hub, left", 3220, []string{""}, 1},
	{"hub-rear-right", "Rear hub, right", 3230, []string{""}, 1},
	{"brakes-front", "Front brake set", 4000, []string{"drum"}, 1},
	{"brakes-rear", "Rear brake set", 4020, []string{"drum"}, 1},
	{"brake-hydraulics", "Brake hydraulics set", 4040, []string{"glycol-dot4", "glycol-dot4", "glycol-dot4+cupro-nickel"}, 1},
	{"brake-servo", "Brake servo", 4060, []string{"", "", ""}, 1},
	{"steering-box", "Steering box", 5000, []string{"oil-filled"}, 1},
	{"steering-linkage", "Steering linkage set", 5010, []string{"greaseable", "greaseable", "sealed"}, 1},
	{"steering-damper", "Steering damper", 5020, []string{""}, 1},
	{"shock-absorbers", "Shock absorber", 5030, []string{""}, 4},
	{"springs", "Leaf spring", 5040, []string{"rubber-bushes", "rubber-bushes", "bronze-bushes"}, 4},
	{"chassis", "Frame", 5100, []string{"", "", "", "galvanised"}, 1},
	{"body", "Body", 5110, []string{""}, 1},
	{"wheels", "Road wheel", 5200, []string{""}, 5},
	{"tyres", "Tyre", 5210, []string{""}, 5},
	{"battery", "Battery", 6000, []string{"flooded", "agm"}, 1},
	{"alternator", "Alternator", 6010, []string{""}, 1},
	{"starter", "Starter motor", 6020, []string{""}, 1},
	{"lamps", "Lamp set", 6030, []string{""}, 1},
	{"wipers", "Wiper set", 6040, []string{""}, 1},
	{"seat-belts", "Seat belt", 6050, []string{""}, 3},
	{"speedometer", "Speedometer", 6060, []string{""}, 1},
	{"heater", "Heater", 6070, []string{""}, 1},
}

// traitsIn gives the traits at a release, 0 for R1.
func (p place) traitsIn(release int) string { return p.traits[min(release, len(p.traits)-1)] }

// part gives the part number at a release.
func (p place) part(release int) string {
	number := p.base
	for r := 1; r <= release; r++ {
		if p.traitsIn(r) != p.traitsIn(r-1) {
			number++
		}
	}
	return fmt.Sprintf("AP-%d", number)
}

// option is something a customer may order.
type option struct {
	id, title string
	fitments  []fitment
	removes   []string
	excludes  []string
	from      int // first release that offers it, 0 for R1
}

type fitment struct {
	position, part, traits, title string
	quantity                      int
}

var optionList = []option{
	{id: "winch", title: "Electric winch with wire rope", fitments: []fitment{{"winch", "AP-7000", "electric+wire", "Winch, electric, wire rope", 1}}, excludes: []string{"winch-synthetic"}},
	{id: "winch-synthetic", title: "Electric winch with synthetic rope", fitments: []fitment{{"winch", "AP-7001", "electric+synthetic", "Winch, electric, synthetic rope", 1}}, excludes: []string{"winch"}, from: 2},
	{id: "lsd-front", title: "Limited-slip differential, front", fitments: []fitment{{"front-axle-differential", "AP-3005", "limited-slip", "Front differential, limited slip", 1}}, from: 1},
	{id: "lsd-rear", title: "Limited-slip differential, rear", fitments: []fitment{{"rear-axle-differential", "AP-3015", "limited-slip", "Rear differential, limited slip", 1}}},
	{id: "disc-front", title: "Disc brakes in front", fitments: []fitment{{"brakes-front", "AP-4005", "disc", "Front disc brake set", 1}}, from: 2},
	{id: "silicone-brakes", title: "Silicone brake fluid", fitments: []fitment{{"brake-hydraulics", "AP-4045", "silicone-dot5+cupro-nickel", "Brake hydraulics set for silicone fluid", 1}}, from: 3},
	{id: "free-wheel-hubs", title: "Free-wheeling hubs", fitments: []fitment{{"free-wheel-hubs", "AP-3300", "manual", "Free-wheeling hub, pair", 1}}},
	{id: "soft-top", title: "Soft top", fitments: []fitment{{"soft-top", "AP-8000", "", "Soft top", 1}}, excludes: []string{"hard-top"}},
	{id: "hard-top", title: "Hard top", fitments: []fitment{{"hard-top", "AP-8010", "", "Hard top", 1}}, excludes: []string{"soft-top"}},
	{id: "wading-kit", title: "Wading kit", fitments: []fitment{{"axle-breathers", "AP-3025", "extended", "Axle breather, extended", 3}}},
	{id: "tow-hitch", title: "Tow hitch", fitments: []fitment{{"tow-hitch", "AP-8020", "", "Tow hitch", 1}}},
	{id: "no-servo", title: "Brakes without servo", removes: []string{"brake-servo"}},
}

// release is one version of the specification.
type release struct {
	id, title, effective string
	axle                 string
	tyre, pattern        string
	driver, driven       int
	synchronised         string
}

var releases = []release{
	{"R1", "First release", "2008-01-01", "4.70", "7.50-16", "bar", 5, 15, "3, 4"},
	{"R2", "AGM battery, front limited slip offered", "2012-03-01", "4.70", "7.50-16", "bar", 5, 15, "3, 4"},
	{"R3", "Paper air element, grease-filled swivels, discs offered", "2015-06-01", "4.70", "205R16", "road", 5, 15, "3, 4"},
	{"R4", "All-synchromesh gearbox, electronic ignition, galvanised frame", "2019-02-01", "4.12", "235/85R16", "all-terrain", 6, 16, "1, 2, 3, 4"},
	{"R5", "Sealed rear propshaft", "2023-09-01", "4.12", "235/85R16", "all-terrain", 6, 16, "1, 2, 3, 4"},
}

// driveGears are the pairs of speedometer drive gears, driver and driven, that
// the works has in stock.
var driveGears = [][2]int{{5, 14}, {5, 15}, {5, 16}, {5, 17}, {6, 16}, {6, 17}, {6, 18}}

func (r release) index() int { return int(r.id[1] - '1') }

// yaml writes the release as the works would.
func (r release) yaml() string {
	var b strings.Builder
	n := r.index()
	fmt.Fprintf(&b, "# Aldermoor Packhorse, release %s. Invented; every value is a sample, to be signed by\n# the works' engineer.\n", r.id)
	fmt.Fprintf(&b, "name: releases/%s\ntitle: %s\neffective_date: %s\nprogramme: programmes/packhorse\n", r.id, quoted(r.title), r.effective)
	fmt.Fprintf(&b, "driveline:\n  gears: [\"2.996\", \"2.043\", \"1.377\", \"1.000\"]\n  transfer_high: \"1.148\"\n  transfer_low: \"2.888\"\n")
	fmt.Fprintf(&b, "  axle_ratio: %q\n  tyre: {size: %q, pattern: %q}\n", r.axle, r.tyre, r.pattern)
	fmt.Fprintf(&b, "  speedometer_drive: {driver_teeth: %d, driven_teeth: %d}\n", r.driver, r.driven)
	fmt.Fprintf(&b, "  dial: {digits: 5, unit: mi, turns_per_unit: 1000, tenths: true}\n  synchronised_gears: [%s]\n", r.synchronised)
	b.WriteString("  available_speedometer_drives:\n")
	for _, pair := range driveGears {
		fmt.Fprintf(&b, "    - {driver_teeth: %d, driven_teeth: %d}\n", pair[0], pair[1])
	}
	b.WriteString("  sample: true\n")
	b.WriteString("fitments:\n")
	for _, p := range places {
		fmt.Fprintf(&b, "  - {position: %s, part: %s%s%s%s}\n", p.position, p.part(n), in(p.position), counted(p.quantity), listed(p.traitsIn(n)))
	}
	b.WriteString("options:\n")
	for _, o := range optionList {
		if o.from > n {
			continue
		}
		fmt.Fprintf(&b, "  - option_id: %s\n    title: %s\n", o.id, quoted(o.title))
		if len(o.fitments) > 0 {
			b.WriteString("    fitments:\n")
		}
		for _, f := range o.fitments {
			fmt.Fprintf(&b, "      - {position: %s, part: %s%s%s}\n", f.position, f.part, counted(f.quantity), listed(f.traits))
		}
		if len(o.removes) > 0 {
			fmt.Fprintf(&b, "    removes: [%s]\n", strings.Join(o.removes, ", "))
		}
		var excludes []string
		for _, x := range o.excludes {
			for _, other := range optionList {
				if other.id == x && other.from <= n {
					excludes = append(excludes, x)
				}
			}
		}
		if len(excludes) > 0 {
			fmt.Fprintf(&b, "    excludes: [%s]\n", strings.Join(excludes, ", "))
		}
	}
	return b.String()
}

func quoted(s string) string { return fmt.Sprintf("%q", s) }

func counted(n int) string {
	if n == 1 {
		return ""
	}
	return fmt.Sprintf(", quantity: %d", n)
}

// inside are the positions in an assembly: with another of it comes another of
// them.
var inside = map[string]string{
	"output-shaft-bearing": "transfer-case", "swivel-pin-left": "swivel-housing-left", "swivel-pin-right": "swivel-housing-right",
}

func in(position string) string {
	if inside[position] == "" {
		return ""
	}
	return ", within: " + inside[position]
}

func listed(traits string) string {
	if traits == "" {
		return ""
	}
	return ", traits: [" + strings.ReplaceAll(traits, "+", ", ") + "]"
}
