package main

import "halfshaft/services/vehicle"

// story is a hard case told by one vehicle of the fleet.
type story struct {
	draw    func(*car)         // before its years are drawn
	write   func(*works, *car) // after
	noOwner bool               // nobody knows who owns it
	sold    vehicle.Date       // the day it got a new owner
}

var changeColumns = []string{"serial", "id", "kind", "change date", "source", "position", "part", "component serial", "lot", "fitted date", "prior distance",
	"bedding in date", "traits", "component note", "tyre size", "tyre pattern", "axle ratio", "speedometer driver teeth", "speedometer driven teeth",
	"dial digits", "dial unit", "dial turns per unit", "dial tenths", "dial start", "reading", "release", "positions", "option", "plate", "reason", "done by"}

func (w *works) change(c *car, row cells) {
	row["serial"] = string(c.serial)
	w.add("changes", row, changeColumns...)
}

func (w *works) event(c *car, kind string, on vehicle.Date, note string) {
	w.add("events", cells{"serial": string(c.serial), "kind": kind, "event date": on.String(), "reading": c.shows(on), "note": note},
		"serial", "id", "kind", "event date", "reading", "note")
}

func (w *works) use(c *car, kind, from, until, note string) {
	w.add("use facts", cells{"serial": string(c.serial), "kind": kind, "start date": from, "end date": until, "note": note},
		"serial", "id", "kind", "start date", "end date", "note")
}

// without takes options off that a story has no room for.
func (c *car) without(ids ...string) {
	var kept []string
	for _, o := range c.options {
		if !contains(ids, o) {
			kept = append(kept, o)
		}
	}
	c.options = kept
}

// stories are told by these vehicles, by their place in the fleet; STORIES.md
// says the same for people.
var stories = map[int]*story{
	1: {draw: func(c *car) { c.upgraded = vehicle.MustDate(2017, 5, 4) }, write: func(w *works, c *car) { // upgraded part of the way
		w.change(c, cells{"id": "c1", "kind": "upgrade", "change date": "2017-05-04", "source": "works", "release": "R3",
			"positions": "air-cleaner; oil-filter", "reason": "owner asked for the paper element", "done by": "Aldermoor Works"})
	}},
	2: {write: func(w *works, c *car) { // a campaign part outranks the as-built entry
		w.change(c, cells{"id": "c1", "kind": "fit", "change date": "2018-03-12", "source": "campaign", "position": "brake-hydraulics", "part": "AP-4047",
			"component serial": "MC2201", "traits": "glycol-dot4", "reason": "campaign: master cylinder", "done by": "Harbour Road Garage"})
	}},
	4: {draw: func(c *car) { c.without("lsd-rear") }, write: func(w *works, c *car) { // gives its rear differential away
		w.change(c, cells{"id": "c1", "kind": "remove", "change date": "2019-06-03", "source": "works", "position": "rear-axle-differential", "reason": "axle taken for AM vehicle 6 of the fleet", "done by": "Aldermoor Works"})
		w.change(c, cells{"id": "c2", "kind": "fit", "change date": "2019-06-03", "source": "works", "position": "rear-axle-differential", "part": "AP-3010", "component serial": "R9004", "lot": "L201905", "reason": "rebuilt unit fitted in its place", "done by": "Aldermoor Works"})
	}},
	5: {draw: func(c *car) { c.without("lsd-rear") }, write: func(w *works, c *car) { // and this one has it since
		w.change(c, cells{"id": "c1", "kind": "fit", "change date": "2019-06-10", "source": "works", "position": "rear-axle-differential", "part": "AP-3010", "component serial": "R1052",
			"lot": "L201205", "prior distance": "4210 mi", "bedding in date": "2012-05-20", "reason": "unit moved from another vehicle", "done by": "Aldermoor Works"})
	}},
	6: {write: func(w *works, c *car) { // plates swapped
		w.change(c, cells{"id": "c1", "kind": "plate", "change date": "2016-08-01", "plate": "PH 1", "reason": "owner bought a plate"})
		w.change(c, cells{"id": "c2", "kind": "plate", "change date": "2021-02-01", "plate": "", "reason": "plate kept by the owner when sold"})
	}, sold: vehicle.MustDate(2021, 2, 1)},
	8: {write: func(w *works, c *car) { // wears the plate that the other had
		w.change(c, cells{"id": "c1", "kind": "plate", "change date": "2021-02-15", "plate": "PH 1", "reason": "plate bought from another owner"})
	}},
	9: {write: func(w *works, c *car) { // the owner's own modification
		w.change(c, cells{"id": "c1", "kind": "fit", "change date": "2020-09-09", "source": "owner", "position": "distributor", "part": "AP-1045", "traits": "electronic", "reason": "owner's own electronic ignition"})
	}},
	12: {draw: func(c *car) { c.start = 93_900; c.perYear = 560; c.seasonal = false }}, // went round its five digits
	13: {draw: func(c *car) { c.redialled = vehicle.MustDate(2020, 5, 2) }, write: func(w *works, c *car) { // the odometer was replaced
		w.change(c, cells{"id": "c1", "kind": "dial", "change date": "2020-05-02", "source": "service", "dial digits": "5", "dial unit": "mi", "dial turns per unit": "1000", "dial tenths": "yes",
			"dial start": "0 mi", "reading": c.shows(vehicle.MustDate(2020, 5, 2)), "reason": "seized; could not be set to the old reading, notice on the door frame", "done by": "Fell Side Motors"})
	}},
	14: {draw: func(c *car) { c.unit = "km" }}, // a kilometre dial
	16: {write: func(w *works, c *car) { // axle ratio changed
		w.change(c, cells{"id": "c1", "kind": "axle ratio", "change date": "2022-04-20", "source": "works", "axle ratio": "4.12", "reading": c.shows(vehicle.MustDate(2022, 4, 20)), "reason": "longer ratio for the motorway", "done by": "Aldermoor Works"})
	}},
	17: {write: func(w *works, c *car) { // tyres of another size
		w.change(c, cells{"id": "c1", "kind": "tyres", "change date": "2023-03-15", "source": "service", "tyre size": "235/85R16", "tyre pattern": "mud-terrain", "reading": c.shows(vehicle.MustDate(2023, 3, 15)), "reason": "owner wanted taller tyres", "done by": "Quay Street Workshop"})
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
	0: {draw: func(c *car) { c.last = vehicle.MustDate(2026, 2, 20) }, write: func(w *works, c *car) { // re-shimmed in year eleven: bedding in again
		w.change(c, cells{"id": "c1", "kind": "overhaul", "change date": "2022-05-11", "source": "service", "position": "output-shaft-bearing", "reading": c.shows(vehicle.MustDate(2022, 5, 11)), "reason": "end float 0.21 mm; re-shimmed", "done by": "Aldermoor Works"})
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
	32: {draw: func(c *car) { c.last = vehicle.MustDate(2025, 11, 10) }, noOwner: true}, // nobody knows who owns it
	33: {draw: func(c *car) { c.perYear = 90 }},                                         // hardly driven: time decides
	34: {sold: vehicle.MustDate(2024, 7, 1)},                                            // sold: the former owner hears no more
}

// tenfold is the reading with the tenths wheel read as a digit.
func tenfold(c *car, on vehicle.Date) string {
	return format(int(c.dialAt(on)*10) % 100000)
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
