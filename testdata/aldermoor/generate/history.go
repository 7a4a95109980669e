package main

import (
	"fmt"
	"strings"

	"halfshaft/services/vehicle"
)

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
		c.settleRollover(w)
	}
}

// settleRollover lets the works decide that the dial went round, at the first
// reading after it did.
func (c *car) settleRollover(w *works) {
	rows := w.tables["readings"]
	row := rows.rows[len(rows.rows)-1]
	if !c.rolled || len(row[3]) > len("9999 mi") {
		return
	}
	c.rolled = false
	for i, column := range rows.header {
		switch column {
		case "verdict":
			row[i] = "rolled over"
		case "verdict reason":
			row[i] = "telephoned: the owner saw the row of nines turn"
		case "settled by":
			row[i] = "front desk"
		}
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
	renewed := c.built.MonthsUntil(on) >= 110 && !c.tyred
	if renewed {
		c.tyred = true
		items = append(items, "W04R")
	}
	w.add("service entries", cells{"serial": string(c.serial), "id": id, "service date": on.String(), "reading": c.shows(on),
		"items": strings.Join(items, "; "), "done by": workshops[c.n%len(workshops)]}, entryColumns...)
	w.checked(c, id, on, items)
	if renewed { // what was measured was found before
		c.treadFrom = c.covered(on) - c.start
	}
	if !(full && deep) {
		return float
	}
	float += c.random.IntN(2)
	shown := float
	if told, ok := c.endFloats[on.Year]; ok {
		shown = told
	}
	for _, m := range []struct{ item, what, position, value string }{
		{"T02", "end-float", "", fmt.Sprintf("0.%02d mm", shown)},
		{"S04", "preload", "swivel-pin-left", kgf(68 - c.random.IntN(10))},
		{"S04", "preload", "swivel-pin-right", kgf(68 - c.random.IntN(10))},
	} {
		w.measured(c, id, m.item, m.what, m.position, m.value)
	}
	return float
}

// checked writes what is measured at any visit. Linings and treads wear with
// the distance, belts stretch with time, batteries fade.
func (w *works) checked(c *car, entry string, on vehicle.Date, items []string) {
	years := float64(c.delivered.DaysUntil(on)) / 365.25
	driven := c.covered(on) - c.start
	for _, m := range []struct {
		item, what, position, value string
	}{
		{"E08", "deflection", "", fmt.Sprintf("%d mm", 8+int(years)%4+c.extra.IntN(3))},
		{"X01", "rest-voltage", "", fmt.Sprintf("12.%02d V", 82-int(years)%5*4-c.extra.IntN(5))},
		{"W03", "tread-depth", "", fmt.Sprintf("%.1f mm", max(3.2, 9-(driven-c.treadFrom)/2500)+float64(c.extra.IntN(3))/10)},
		{"B02F", "lining-above-rivet", "", fmt.Sprintf("%.1f mm", max(1, 4-driven/8000)+float64(c.extra.IntN(3))/10)},
		{"B03F", "pad-thickness", "", fmt.Sprintf("%.1f mm", max(3.4, 10-driven/3000)+float64(c.extra.IntN(3))/10)},
		{"R01", "rim-lash", "", fmt.Sprintf("%d mm", 16+int(years)+c.extra.IntN(4))},
		{"S05", "end-float", "hub-front-left", fmt.Sprintf("0.%02d mm", 7+c.extra.IntN(6))},
		{"S05", "end-float", "hub-front-right", fmt.Sprintf("0.%02d mm", 7+c.extra.IntN(6))},
	} {
		if contains(items, m.item) {
			w.measured(c, entry, m.item, m.what, m.position, m.value)
		}
	}
}

func (w *works) measured(c *car, entry, item, what, position, value string) {
	w.add("measured values", cells{"entry": entry, "serial": string(c.serial), "item": item, "characteristic": what, "position": position, "value": value},
		"entry", "serial", "item", "characteristic", "position", "value")
}

// incidents are the events of the years: a puncture on the coast road now and
// then, with the wheel nuts tightened again after it as the book asks, and a
// ford for those who have the kit for it.
func (w *works) incidents(c *car) {
	for k, year := 0, c.delivered.Year+1; year < today.Year; k, year = k+1, year+1+c.extra.IntN(3) {
		on := vehicle.MustDate(year, 7, 1).AddDays(c.extra.IntN(50))
		if c.extra.IntN(3) > 0 {
			continue
		}
		if contains(c.options, "wading-kit") {
			w.event(c, "wading", on, "ford above the hubs")
			w.entry(c, fmt.Sprintf("w%d", k), on.AddDays(1), strings.Join(c.afterWading(), "; "), "looked for water; none")
			continue
		}
		w.event(c, "wheel refitted", on, "puncture")
		then := on.AddDays(1)
		for c.covered(then)-c.covered(on) < 40 && then.Before(on.AddDays(300)) {
			then = then.AddDays(1)
		}
		w.entry(c, fmt.Sprintf("w%d", k), then, "W01", "wheel nuts after the puncture")
	}
}

// afterWading is what is looked at within two days of a ford.
func (c *car) afterWading() []string {
	items := []string{"C01W", "G01W", "T01W", "T04W", "P01", "D01W", "D05", "S05W", "B02W"}
	if c.needs("S01") {
		return append(items, "S01W")
	}
	return append(items, "S02")
}
