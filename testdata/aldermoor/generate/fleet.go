package main

import (
	"fmt"
	"math/rand/v2"
	"strings"

	"halfshaft/services/vehicle"
)

// today is the demo's fixed date.
var today = vehicle.MustDate(2026, 5, 18)

// fleetSize is how many vehicles there are.
const fleetSize = 64

// car is one vehicle as it is drawn.
type car struct {
	n         int
	serial    vehicle.Serial
	release   release
	options   []string
	delivered vehicle.Date
	built     vehicle.Date
	perYear   float64 // indicated miles
	seasonal  bool    // driven from June to August only
	start     float64 // what the dial showed at delivery
	unit      string
	last      vehicle.Date // the last visit to a workshop
	story     *story
	redialled vehicle.Date // since then it has another odometer, which began at 0
	upgraded  vehicle.Date // since then it has the paper element of R3
	tyred     bool         // its tyres were renewed for their age
	random    *rand.Rand
}

// fleet draws the vehicles and writes their years.
func (w *works) fleet() {
	random := rand.New(rand.NewPCG(1957, 1972))
	n := 0
	for number := 101; n < fleetSize; number++ {
		serial, err := vehicle.NewSerial(fmt.Sprintf("AM%04d", number))
		if err != nil {
			continue // its check character is not issued
		}
		c := draw(n, serial, random)
		w.vehicle(c)
		n++
	}
	w.owners()
}

func draw(n int, serial vehicle.Serial, fleet *rand.Rand) *car {
	random := rand.New(rand.NewPCG(fleet.Uint64(), fleet.Uint64()))
	// Deliveries are spread evenly from spring 2011 to spring 2026.
	delivered := vehicle.MustDate(2011, 4, 11).AddDays(n*5440/(fleetSize-1) + random.IntN(20))
	if n == fleetSize-1 {
		delivered = vehicle.MustDate(2026, 4, 9)
	}
	c := &car{
		n: n, serial: serial, delivered: delivered, built: delivered.AddDays(-14 - random.IntN(20)),
		perYear: 300 + float64(random.IntN(1200)), seasonal: n%5 < 2, start: float64(8 + random.IntN(30)), unit: "mi", random: random,
	}
	for _, r := range releases {
		if date, err := vehicle.ParseDate(r.effective); err == nil && !c.built.Before(date) {
			c.release = r
		}
	}
	for _, o := range optionList {
		if o.from <= c.release.index() && random.IntN(4) == 0 && c.allows(o) {
			c.options = append(c.options, o.id)
		}
	}
	if c.seasonal {
		c.perYear = 300 + float64(random.IntN(500)) // a summer's miles
	}
	c.story = stories[n]
	if c.story != nil && c.story.draw != nil {
		c.story.draw(c)
	}
	if c.last.IsZero() {
		c.last = c.lastVisit()
	}
	return c
}

// allows says whether an option goes with those that were drawn.
func (c *car) allows(o option) bool {
	for _, x := range o.excludes {
		if contains(c.options, x) {
			return false
		}
	}
	return true
}

// lastVisit makes most of the fleet up to date and some of it not: about one
// in eight has something coming up, one in twelve is due, a few are late.
func (c *car) lastVisit() vehicle.Date {
	switch {
	case c.n%8 == 3:
		return today.AddMonths(-6).AddDays(c.random.IntN(20) + 5) // coming within the month
	case c.n%12 == 7:
		return today.AddMonths(-6).AddDays(-c.random.IntN(20)) // due
	case c.n%21 == 10:
		return today.AddMonths(-8).AddDays(-c.random.IntN(40)) // late
	}
	return today.AddDays(-10 - c.random.IntN(110))
}

// dialAt gives what the odometer shows on a day, in miles.
func (c *car) dialAt(on vehicle.Date) float64 {
	if !c.redialled.IsZero() && on.After(c.redialled) {
		return c.covered(on) - c.covered(c.redialled)
	}
	return c.covered(on)
}

// covered is what a dial would show that was never replaced.
func (c *car) covered(on vehicle.Date) float64 {
	years := float64(c.delivered.DaysUntil(on)) / 365.25
	if c.seasonal {
		years = season(on) - season(c.delivered)
	}
	return c.start + c.perYear*years
}

// season is the part of all summers that has passed: it grows from June to
// August only.
func season(on vehicle.Date) float64 {
	begin, end := vehicle.MustDate(on.Year, 6, 1), vehicle.MustDate(on.Year, 9, 1)
	switch {
	case on.Before(begin):
		return float64(on.Year)
	case !on.Before(end):
		return float64(on.Year + 1)
	}
	return float64(on.Year) + float64(begin.DaysUntil(on))/92
}

// shows writes what the odometer shows, in the unit of its dial.
func (c *car) shows(on vehicle.Date) string {
	miles := c.dialAt(on)
	if c.unit == "km" {
		return fmt.Sprintf("%d km", int(miles*1.609344))
	}
	return fmt.Sprintf("%d mi", int(miles)%100000)
}

var buildColumns = []string{"serial", "frame number", "release", "options", "wheelbase", "market", "donor year", "tyre size", "tyre pattern",
	"axle ratio", "speedometer driver teeth", "speedometer driven teeth", "dial digits", "dial unit", "dial turns per unit", "dial tenths",
	"delivery reading", "finish", "finish note", "key numbers", "plate", "build date", "delivery date"}

var markets = []string{"GB", "US", "GB", "AU", "PT", "US", "NZ"}

func (w *works) vehicle(c *car) {
	finish, note := "refinished", "moor green"
	if c.n%3 == 0 {
		finish, note = "original retained", "sand, worn through on the wings, sealed"
	}
	dial := "mi"
	if c.unit == "km" {
		dial = "km"
	}
	row := cells{
		"serial": string(c.serial), "frame number": fmt.Sprintf("%d-%05d", 24000+c.n*37%900, 10000+c.n*7919%80000),
		"release": c.release.id, "options": strings.Join(c.options, "; "), "wheelbase": []string{"short", "long"}[c.n%2],
		"market": markets[c.n%len(markets)], "donor year": fmt.Sprint(1957 + c.n%16), "tyre size": c.release.tyre, "tyre pattern": c.release.pattern,
		"axle ratio": c.release.axle, "speedometer driver teeth": fmt.Sprint(c.release.driver), "speedometer driven teeth": fmt.Sprint(c.release.driven),
		"dial digits": "5", "dial unit": dial, "dial turns per unit": turns(dial), "dial tenths": "yes",
		"delivery reading": c.shows(c.delivered), "finish": finish, "finish note": note, "key numbers": c.keyNumber(),
		"plate": fmt.Sprintf("AM %d PH", 100+c.n), "build date": c.built.String(), "delivery date": c.delivered.String(),
	}
	w.add("builds", row, buildColumns...)
	w.asBuilt(c)
	w.years(c)
	if c.story != nil && c.story.write != nil {
		c.story.write(w, c)
	}
}

// keyNumber is the number on the keys. One was written down wrongly at first;
// the amendment beside these files says so.
func (c *car) keyNumber() string {
	if c.n == 8 {
		return "K380"
	}
	return fmt.Sprintf("K%03d", 300+c.n)
}

func turns(unit string) string {
	if unit == "km" {
		return "621"
	}
	return "1000"
}

// asBuilt writes the components, measurements, fluids and the road test.
func (w *works) asBuilt(c *car) {
	for i, position := range []string{"engine", "gearbox", "transfer-case", "output-shaft-bearing", "front-axle-differential", "rear-axle-differential"} {
		w.add("components", cells{"serial": string(c.serial), "position": position, "component serial": fmt.Sprintf("%s%04d", []string{"E", "G", "T", "B", "F", "R"}[i], 1000+c.n*13),
			"lot": fmt.Sprintf("L%d%02d", c.built.Year, int(c.built.Month))},
			"serial", "position", "part", "component serial", "lot", "fitted date", "traits", "note")
	}
	float := 8 + c.random.IntN(6)
	for _, m := range []struct{ position, what, value string }{
		{"output-shaft-bearing", "end-float", fmt.Sprintf("0.%02d mm", float)},
		{"output-shaft-bearing", "shim-pack", fmt.Sprintf("0.%02d mm", 50+c.random.IntN(30))},
		{"swivel-pin-left", "preload", fmt.Sprintf("%d N", 55+c.random.IntN(20))},
		{"swivel-pin-right", "preload", fmt.Sprintf("%d N", 55+c.random.IntN(20))},
	} {
		w.add("measurements", cells{"serial": string(c.serial), "position": m.position, "characteristic": m.what, "value": m.value,
			"measured date": c.built.String(), "measured by": "works, bench 2", "instrument": "dial gauge 4"},
			"serial", "position", "characteristic", "value", "measured date", "measured by", "instrument")
	}
	for _, f := range []struct{ position, fluid, quantity string }{
		{"engine", "SAE 20W-50 API SG", "5.0 l"}, {"gearbox", "SAE 80W-90 API GL-4", "1.5 l"}, {"transfer-case", "SAE 80W-90 API GL-4", "2.5 l"},
	} {
		w.add("fluids", cells{"serial": string(c.serial), "position": f.position, "fluid": f.fluid, "quantity": f.quantity, "batch": fmt.Sprintf("B%d-%d", c.built.Year, c.random.IntN(40))},
			"serial", "position", "fluid", "quantity", "batch")
	}
	w.add("road test", cells{"serial": string(c.serial), "test date": c.built.AddDays(3).String(), "text": "40 miles; no leaks; bedding-in oil change afterwards", "driver": "works"},
		"serial", "test date", "reading", "text", "driver")
}

// halfYear is done at each visit, the rest once a year or every other.
var halfYear = []string{"E02", "E08", "G01L", "T01L", "P01", "D01FL", "D01RL", "S01L", "S03", "W03", "X01"}

var yearly = []string{"E01", "E04", "E06", "E10", "E11", "E12", "E13", "E14", "C01", "T04", "D04", "D05", "S02", "S06", "B02F", "B02R", "B03F", "B04", "B05",
	"R01", "R02", "R03", "R05", "L01", "W01", "W04", "W05", "X02", "X04", "X05"}

var everyOther = []string{"E03", "E05", "E07", "E07R", "E08R", "E09", "E09A", "E10R", "E12R", "E12E", "C01F", "C01S", "G01", "T01", "T02", "D01F", "D01R", "D02F", "D02R",
	"D03F", "D03R", "S01", "S04", "S05", "B01", "B01S", "B04R", "B05R", "R04", "L02", "X04G", "X01R", "K02", "K04"}

// needs says what an item asks of the vehicle, as the programme does.
func (c *car) needs(item string) bool {
	r := c.release.index()
	old := func(p string, trait string) bool { return strings.Contains(placeNamed(p).traitsIn(r), trait) }
	has := func(o string) bool { return contains(c.options, o) }
	silicone := has("silicone-brakes")
	switch item {
	case "E02":
		return old("air-cleaner", "oil-bath")
	case "E03":
		return old("air-cleaner", "paper")
	case "E05":
		return strings.HasPrefix(placeNamed("cylinder-head").traitsIn(r), "retorque")
	case "E06":
		return old("distributor", "contact-breaker")
	case "E09":
		return old("cooling-system", "inorganic")
	case "E09A":
		return old("cooling-system", "organic-acid")
	case "E12R":
		return !old("fuel-hoses", "ethanol")
	case "E12E":
		return old("fuel-hoses", "ethanol")
	case "S01", "S01L":
		return old("swivel-housing-left", "oil-filled")
	case "S02":
		return old("swivel-housing-left", "grease-filled")
	case "S06":
		return has("free-wheel-hubs")
	case "B01", "C01F":
		return !silicone
	case "B01S", "C01S":
		return silicone
	case "B02F":
		return !has("disc-front")
	case "B03F":
		return has("disc-front")
	case "B05", "B05R":
		return !has("no-servo")
	case "D01F":
		return !has("lsd-front")
	case "D02F", "D03F":
		return has("lsd-front")
	case "D01R":
		return !has("lsd-rear")
	case "D02R", "D03R":
		return has("lsd-rear")
	case "X01":
		return old("battery", "agm")
	case "X04", "X05", "X04G":
		return has("winch") || has("winch-synthetic")
	}
	return true
}

// needsOn is needs on a day: the upgraded vehicle has another air cleaner.
func (c *car) needsOn(item string, on vehicle.Date) bool {
	if !c.upgraded.IsZero() && !on.Before(c.upgraded) && (item == "E02" || item == "E03") {
		return item == "E03"
	}
	return c.needs(item)
}

// workshops did the work; which one is drawn for each vehicle.
var workshops = []string{"Aldermoor Works", "Harbour Road Garage", "Fell Side Motors", "Lighthouse Auto", "Quay Street Workshop"}

// years writes what happened from the delivery to today.
func (w *works) years(c *car) {
	visits := []vehicle.Date{}
	for k := 0; ; k++ {
		on := c.last.AddMonths(-6 * k)
		if on.Before(c.delivered.AddDays(150)) {
			break
		}
		visits = append([]vehicle.Date{on}, visits...)
	}
	if first := c.delivered.AddDays(120 + c.random.IntN(25)); first.Before(today) && (len(visits) == 0 || first.AddDays(20).Before(visits[0])) {
		visits = append([]vehicle.Date{first}, visits...)
	}
	float := 10
	for i, on := range visits {
		// The last but one is a full one, so that the last leaves little open.
		back := len(visits) - 1 - i
		float = w.visit(c, on, i, back%2 == 0 || i == 0, back%4 == 0 || back == 2 && i < 3 || i == 0, float)
	}
	for on := c.delivered.AddDays(60 + c.random.IntN(100)); on.Before(today.AddDays(-5)); on = on.AddDays(110 + c.random.IntN(190)) {
		w.reading(c, on, c.shows(on), []string{"owner", "owner", "dealer", "inspection"}[c.random.IntN(4)], "")
	}
}

func (w *works) reading(c *car, on vehicle.Date, value, source, note string) {
	w.add("readings", cells{"serial": string(c.serial), "reading date": on.String(), "value": value, "source": source, "note": note},
		"serial", "id", "reading date", "value", "source", "note", "verdict", "corrected", "verdict reason", "settled by")
}

var entryColumns = []string{"serial", "id", "service date", "reading", "items", "done by", "note"}

// visit writes one service entry.
func (w *works) visit(c *car, on vehicle.Date, i int, full, deep bool, float int) int {
	id := fmt.Sprintf("v%02d", i+1)
	var items []string
	for _, list := range []struct {
		items []string
		does  bool
	}{{halfYear, true}, {yearly, full}, {everyOther, full && deep}} {
		for _, item := range list.items {
			if list.does && c.needsOn(item, on) && !(item == "X05" && on.Before(vehicle.MustDate(2024, 6, 1))) {
				items = append(items, item)
			}
		}
	}
	if age := c.built.MonthsUntil(on); age >= 110 && !c.tyred {
		c.tyred = true
		items = append(items, "W04R")
	}
	w.add("service entries", cells{"serial": string(c.serial), "id": id, "service date": on.String(), "reading": c.shows(on),
		"items": strings.Join(items, "; "), "done by": workshops[c.n%len(workshops)]}, entryColumns...)
	if !(full && deep) {
		return float
	}
	float += c.random.IntN(2)
	for _, m := range []struct{ item, what, position, value string }{
		{"T02", "end-float", "", fmt.Sprintf("0.%02d mm", float)},
		{"S04", "preload", "swivel-pin-left", fmt.Sprintf("%d N", 68-c.random.IntN(10))},
		{"S04", "preload", "swivel-pin-right", fmt.Sprintf("%d N", 68-c.random.IntN(10))},
	} {
		w.add("measured values", cells{"entry": id, "serial": string(c.serial), "item": m.item, "characteristic": m.what, "position": m.position, "value": m.value},
			"entry", "serial", "item", "characteristic", "position", "value")
	}
	return float
}

// person is an owner, invented.
type person struct{ name, zone, unit, language, phone string }

// zones are where they live: six time zones.
var zones = []person{
	{zone: "Europe/London", language: "en-GB", phone: "+441632960%03d"}, {zone: "America/New_York", language: "en-US", phone: "+12025550%03d"},
	{zone: "Europe/London", language: "en-GB", phone: "+441632960%03d"}, {zone: "Australia/Sydney", unit: "km", language: "en-AU", phone: "+61255500%03d"},
	{zone: "Europe/Lisbon", unit: "km", language: "en-GB", phone: "+441632960%03d"}, {zone: "America/Phoenix", language: "en-US", phone: "+12025550%03d"},
	{zone: "Pacific/Auckland", unit: "km", language: "en-GB", phone: "+441632960%03d"},
}

var firstNames = []string{"Margaret", "Edwin", "Rosalind", "Tobias", "Agnes", "Hector", "Imogen", "Silas", "Beatrix", "Conrad", "Dorothea", "Fergus", "Helga", "Ivor", "Josephine", "Lambert"}

var lastNames = []string{"Harrowgate", "Penwithen", "Oakhampton", "Silverdale", "Thornbury-Vale", "Marchbank", "Underhill", "Wexcombe", "Ravenscar", "Fairweather", "Lowther-Finch", "Ashgrove"}

func (w *works) owners() {
	columns := []string{"id", "full name", "email", "phone", "postal lines", "language", "distance unit", "time zone", "contact from hour", "contact until hour"}
	tie := []string{"serial", "id", "person", "role", "notices", "start date", "end date"}
	serials := w.tables["builds"]
	add := func(id string, i int, name string) {
		p := zones[i%len(zones)]
		mail := strings.ToLower(strings.ReplaceAll(name, " ", ".")) + "@" + []string{"harbour.example", "moor.example", "seaside.example"}[i%3]
		from, until := "", ""
		if i%9 == 4 {
			from, until = "17", "20" // answers after work only
		}
		w.add("people", cells{"id": id, "full name": name, "email": mail, "phone": fmt.Sprintf(p.phone, 100+i),
			"postal lines": fmt.Sprintf("%d Invented Row; Fictionbury", i+1), "language": p.language, "distance unit": p.unit, "time zone": p.zone,
			"contact from hour": from, "contact until hour": until}, columns...)
	}
	names := map[string]bool{}
	for i, row := range serials.rows {
		serial, delivered := row[0], row[len(serials.header)-1]
		name := firstNames[i%len(firstNames)] + " " + lastNames[(i*5+i/7)%len(lastNames)]
		id := fmt.Sprintf("p%04d", i+1)
		s := stories[i]
		switch {
		case s != nil && s.noOwner:
			continue
		case i == 40: // owns the vehicle before as well
			id = "p0040"
		case i == 50: // bears the name of another owner
			name = firstNames[0] + " " + lastNames[0]
			fallthrough
		default:
			add(id, i, name)
		}
		names[name] = true
		start, end := delivered, ""
		if s != nil && s.sold != (vehicle.Date{}) {
			buyer := fmt.Sprintf("p%04d", 200+i)
			add(buyer, i+3, firstNames[(i+5)%len(firstNames)]+" "+lastNames[(i+3)%len(lastNames)])
			w.add("ties", cells{"serial": serial, "person": buyer, "role": "owner", "notices": "yes", "start date": s.sold.String()}, tie...)
			end = s.sold.String()
		}
		w.add("ties", cells{"serial": serial, "person": id, "role": "owner", "notices": "yes", "start date": start, "end date": end}, tie...)
		if i%13 == 6 {
			care := fmt.Sprintf("p%04d", 300+i)
			add(care, i+1, firstNames[(i+9)%len(firstNames)]+" "+lastNames[(i+7)%len(lastNames)])
			w.add("ties", cells{"serial": serial, "person": care, "role": "caretaker", "notices": "no", "start date": start}, tie...)
		}
	}
}
