package main

import (
	"fmt"

	"halfshaft/services/vehicle"
)

// distanceStories are about what the odometer says.
var distanceStories = map[int]*story{
	12: {draw: func(c *car) { c.start = 93_900; c.perYear = 560; c.seasonal = false }}, // went round its five digits
	13: {draw: func(c *car) { c.redialled = vehicle.MustDate(2020, 5, 2) }, write: func(w *works, c *car) { // the odometer was replaced
		w.change(c, cells{"id": "c1", "kind": "dial", "change date": "2020-05-02", "source": "service", "dial digits": "5", "dial unit": "mi", "dial turns per unit": "1000", "dial tenths": "yes",
			"dial start": "0 mi", "reading": c.shows(vehicle.MustDate(2020, 5, 2)), "reason": "seized; could not be set to the old reading, notice on the door frame", "done by": "Fell Side Motors"})
		w.event(c, "road speed change", vehicle.MustDate(2020, 5, 2), "odometer replaced")
	}},
	14: {draw: func(c *car) { c.unit = "km" }}, // a kilometre dial
	15: {draw: func(c *car) { c.kmFrom = vehicle.MustDate(2021, 6, 14) }, write: func(w *works, c *car) { // a kilometre dial in a mile vehicle
		w.change(c, cells{"id": "c1", "kind": "dial", "change date": "2021-06-14", "source": "service", "dial digits": "5", "dial unit": "km", "dial turns per unit": "621", "dial tenths": "yes",
			"dial start": "0 km", "reading": c.shows(vehicle.MustDate(2021, 6, 14)), "reason": "taken abroad; speedometer changed to kilometres for the inspection", "done by": "Lighthouse Auto"})
		w.change(c, cells{"id": "c2", "kind": "fit", "change date": "2021-06-14", "source": "service", "position": "speedometer", "part": "AP-6061", "reason": "speedometer that counts kilometres", "done by": "Lighthouse Auto"})
		w.event(c, "road speed change", vehicle.MustDate(2021, 6, 14), "speedometer changed to kilometres")
	}},
	16: {write: func(w *works, c *car) { // axle ratio changed
		w.change(c, cells{"id": "c1", "kind": "axle ratio", "change date": "2022-04-20", "source": "works", "axle ratio": "4.12", "reading": c.shows(vehicle.MustDate(2022, 4, 20)), "reason": "longer ratio for the motorway", "done by": "Aldermoor Works"})
		w.event(c, "road speed change", vehicle.MustDate(2022, 4, 20), "axle ratio changed")
	}},
	17: {write: func(w *works, c *car) { // tyres of another size
		w.change(c, cells{"id": "c1", "kind": "tyres", "change date": "2023-03-15", "source": "service", "tyre size": "235/85R16", "tyre pattern": "mud-terrain", "reading": c.shows(vehicle.MustDate(2023, 3, 15)), "reason": "owner wanted taller tyres", "done by": "Quay Street Workshop"})
		w.event(c, "road speed change", vehicle.MustDate(2023, 3, 15), "taller tyres")
	}},
	18: {write: func(w *works, c *car) { // tenths typed as units
		w.reading(c, vehicle.MustDate(2026, 5, 2), tenfold(c, vehicle.MustDate(2026, 5, 2)), "owner", "read over the telephone")
	}},
	20: {write: func(w *works, c *car) { // two digits swapped
		w.reading(c, vehicle.MustDate(2026, 5, 6), swapped(c, vehicle.MustDate(2026, 5, 6)), "owner", "from the link in a mail")
	}},
	21: {write: func(w *works, c *car) { // arrived years late, out of order
		w.reading(c, vehicle.MustDate(2018, 10, 3), c.shows(vehicle.MustDate(2018, 10, 3)), "dealer", "found in an old job book in 2025")
	}},
	22: {draw: func(c *car) { c.start, c.perYear, c.seasonal, c.rolled = 96_500, 700, false, true }}, // went round, and a person said so
	31: {write: func(w *works, c *car) { // read in kilometres off a dial in miles
		miles := c.dialAt(vehicle.MustDate(2026, 5, 11))
		w.reading(c, vehicle.MustDate(2026, 5, 11), fmt.Sprintf("%d km", int(miles)), "owner", "the owner thinks in kilometres")
	}},
}

// scheduleStories are about what is due.
var scheduleStories = map[int]*story{
	0: {draw: func(c *car) {
		c.last = vehicle.MustDate(2026, 2, 20)
		c.endFloats = map[int]int{2011: 12, 2012: 12, 2014: 13, 2016: 15, 2018: 16, 2020: 18, 2022: 20, 2024: 14, 2026: 19}
	}, write: func(w *works, c *car) { // re-shimmed in year eleven: bedding in again
		w.change(c, cells{"id": "c1", "kind": "overhaul", "change date": "2022-05-11", "source": "service", "position": "output-shaft-bearing", "reading": c.shows(vehicle.MustDate(2022, 5, 11)), "reason": "end float 0.21 mm; re-shimmed", "done by": "Aldermoor Works"})
		w.entry(c, "s1", vehicle.MustDate(2022, 5, 11), "T02", "one shim of 0.51 mm in place of the works' pack")
		w.add("shim work", cells{"entry": "s1", "serial": string(c.serial), "item": "T02", "position": "output-shaft-bearing", "characteristic": "end-float",
			"measured before": "0.21 mm", "pack before": "0.59 mm", "shims": "0.51 mm (AP-2076)", "measured after": "0.13 mm"},
			"entry", "serial", "item", "position", "characteristic", "measured before", "pack before", "shims", "pack", "measured after")
		w.change(c, cells{"id": "c2", "kind": "overhaul", "change date": "2026-03-02", "source": "service", "position": "output-shaft-bearing", "reading": c.shows(vehicle.MustDate(2026, 3, 2)), "reason": "new bearings, re-shimmed to 0.09 mm", "done by": "Aldermoor Works"})
	}},
	24: {draw: func(c *car) { c.last = vehicle.MustDate(2025, 12, 4) }, write: func(w *works, c *car) { // severe use
		w.use(c, "dust", "2024-01-01", "", "farm tracks, most of the distance")
		w.use(c, "towing", "2024-03-01", "", "boat every week")
	}},
	25: {write: func(w *works, c *car) { // wheels refitted a week ago
		w.event(c, "wheel refitted", vehicle.MustDate(2026, 5, 9), "two new tyres")
	}},
	26: {write: func(w *works, c *car) { // waded at the weekend
		w.event(c, "wading", vehicle.MustDate(2026, 5, 16), "ford in flood, above the hubs")
	}},
	27: {write: func(w *works, c *car) { // waded last autumn; looked at the next day
		w.event(c, "wading", vehicle.MustDate(2025, 10, 4), "the ford by the mill")
		w.entry(c, "w1", vehicle.MustDate(2025, 10, 5), "C01W; G01W; T01W; T04W; D01W; D05; S01W; S02; S05W; B02W; P01", "no water anywhere")
	}},
	28: {write: func(w *works, c *car) { // on the coast
		w.use(c, "salt coast", "2016-01-01", "", "stands outside by the sea")
		w.event(c, "salt", vehicle.MustDate(2026, 5, 15), "launched the boat from the beach")
	}},
	29: {draw: func(c *car) { c.last = vehicle.MustDate(2025, 10, 20) }, write: func(w *works, c *car) { // laid up over its due date
		w.use(c, "laid up", "2026-04-20", "2026-09-30", "southern winter")
	}},
	30: {draw: func(c *car) { c.last = vehicle.MustDate(2025, 11, 25) }, write: func(w *works, c *car) { // work done elsewhere, reported late
		w.add("service entries", cells{"serial": string(c.serial), "id": "late", "service date": "2026-01-17", "reading": c.shows(vehicle.MustDate(2026, 1, 17)), "items": "E01", "done by": "a garage abroad", "note": "receipt sent in May"},
			entryColumns...)
	}},
	33: {draw: func(c *car) { c.perYear = 90 }}, // hardly driven: time decides
	38: {draw: func(c *car) { c.last = vehicle.MustDate(2025, 12, 20) }, write: func(w *works, c *car) { // a lay-up that is to come
		w.use(c, "laid up", "2026-06-01", "2026-09-15", "southern winter; told us in April")
	}},
	46: {write: func(w *works, c *car) { // laid up each winter, put away and brought back as the book says
		for year := 2022; year < 2026; year++ {
			away, back := vehicle.MustDate(year, 10, 20), vehicle.MustDate(year+1, 4, 1)
			w.use(c, "laid up", away.String(), back.AddDays(-1).String(), "winter")
			w.entry(c, fmt.Sprintf("z%da", year), away.AddDays(-6), "E01; S03; Z01; K02", "put away: oil fresh, tank full, tyres hard")
			w.entry(c, fmt.Sprintf("z%db", year), back.AddDays(2), "Z03; E13; B04; X01", "brought back: brakes first, no leaks after ten miles")
		}
	}},
	49: {draw: func(c *car) { c.perYear, c.seasonal, c.last = 4_300, false, vehicle.MustDate(2025, 12, 29) }}, // driven so much that distance may come first
	53: {write: func(w *works, c *car) { // other tyres last week: the rolling comparison and the speedometer check are started
		w.change(c, cells{"id": "c1", "kind": "tyres", "change date": "2026-05-12", "source": "service", "tyre size": "235/85R16", "tyre pattern": "mud-terrain", "reading": c.shows(vehicle.MustDate(2026, 5, 12)), "reason": "same size, another pattern: it rolls a per cent less or more", "done by": "Harbour Road Garage"})
		w.event(c, "road speed change", vehicle.MustDate(2026, 5, 12), "another pattern of tyre")
		w.event(c, "wheel refitted", vehicle.MustDate(2026, 5, 12), "all four")
	}},
	54: {draw: func(c *car) { c.delivered, c.built = vehicle.MustDate(2024, 2, 29), vehicle.MustDate(2024, 2, 9) }}, // delivered on 29 February
	56: {write: func(w *works, c *car) { // stands by the sea in summer only
		for year := 2024; year < 2026; year++ {
			w.use(c, "salt coast", fmt.Sprintf("%d-06-15", year), fmt.Sprintf("%d-08-31", year), "the house by the sea")
		}
	}},
	60: {write: func(w *works, c *car) { // its owner said when it is driven
		w.add("use facts", cells{"serial": string(c.serial), "kind": "seasonal", "start date": c.delivered.String(), "first month": "6", "last month": "8",
			"note": "at the summer house"}, useColumns...)
	}},
	63: {}, // just delivered: everything is bedding in
}

// tenfold is the reading with the tenths wheel read as a digit: one more than
// the dial has.
func tenfold(c *car, on vehicle.Date) string {
	return format(int(c.dialAt(on) * 10))
}

// swapped exchanges the first two digits that differ.
func swapped(c *car, on vehicle.Date) string {
	digits := []byte(format(int(c.dialAt(on)))[:])
	for i := 0; i+1 < len(digits)-3; i++ {
		if digits[i] < digits[i+1] {
			digits[i], digits[i+1] = digits[i+1], digits[i]
			break
		}
	}
	return string(digits)
}

func format(n int) string {
	text := ""
	for ; n > 0; n /= 10 {
		text = string(rune('0'+n%10)) + text
	}
	return text + " mi"
}
