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
	kmFrom    vehicle.Date // since then it has an odometer in kilometres, which began at 0
	frame     string       // the donor's frame number, where a story needs one
	rolled    bool         // the first reading after the dial went round is still to be settled
	upgraded  vehicle.Date // since then it has the paper element of R3
	tyred     bool         // its tyres were renewed for their age
	treadFrom float64      // and what it had covered then
	endFloats map[int]int  // end float of the output shaft by year, in hundredths, where a story needs it
	random    *rand.Rand
	extra     *rand.Rand // for what was added later, so that nothing drawn before changes
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
		extra: rand.New(rand.NewPCG(uint64(n), 1611)),
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
	if c.kmFrom != (vehicle.Date{}) && on.After(c.kmFrom) {
		return fmt.Sprintf("%d km", int((c.covered(on)-c.covered(c.kmFrom))*1.609344))
	}
	return c.indicated(c.dialAt(on))
}

// indicated writes miles as the dial that left the works shows them.
func (c *car) indicated(miles float64) string {
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
		"serial": string(c.serial), "frame number": c.frameNumber(),
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
	if c.story == nil {
		w.incidents(c)
	}
	if c.story != nil && c.story.write != nil {
		c.story.write(w, c)
	}
}

// frameNumber is stamped on the donor's frame; its maker had a scheme of its
// own, which has nothing to do with the works' serial.
func (c *car) frameNumber() string {
	if c.frame != "" {
		return c.frame
	}
	return fmt.Sprintf("%d-%05d", 24000+c.n*37%900, 10000+c.n*7919%80000)
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
	if c.unit == "km" { // its speedometer is none of the release's
		w.add("components", cells{"serial": string(c.serial), "position": "speedometer", "part": "AP-6061", "note": "counts kilometres, as its owner ordered"})
	}
	float := 8 + c.random.IntN(6)
	for _, m := range []struct{ position, what, value string }{
		{"output-shaft-bearing", "end-float", fmt.Sprintf("0.%02d mm", float)},
		{"output-shaft-bearing", "shim-pack", fmt.Sprintf("0.%02d mm", 50+c.random.IntN(30))},
		{"swivel-pin-left", "preload", kgf(55 + c.random.IntN(20))},
		{"swivel-pin-right", "preload", kgf(55 + c.random.IntN(20))},
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
	w.roadTest(c)
}

// kgf writes tenths of a kilogram-force, the unit in which the programme wants
// the preload.
func kgf(tenths int) string { return fmt.Sprintf("%d.%d kgf", tenths/10, tenths%10) }

// roadTest is driven before the handing over; the odometer then shows what it
// does at delivery.
func (w *works) roadTest(c *car) {
	for i, line := range []struct {
		before, days int
		text         string
	}{
		{6, 3, "first run, 20 minutes: warm, no leaks; brakes bedded on the moor road; wheel nuts tightened again"},
		{3, 4, "bedding-in change of engine oil and filter; a little fine metal on the plug, as is normal"},
		{0, 6, "second run, both ranges: output shaft cold float checked, accepted"},
	} {
		w.add("road test", cells{"serial": string(c.serial), "test date": c.built.AddDays(line.days).String(), "reading": c.indicated(c.start - float64(line.before)),
			"text": line.text, "driver": testDrivers[(c.n+i)%len(testDrivers)]}, "serial", "test date", "reading", "text", "driver")
	}
}

// testDrivers are invented.
var testDrivers = []string{"W. Tarrant", "W. Tarrant", "O. Bellwether"}
