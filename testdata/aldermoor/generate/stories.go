package main

import (
	"maps"

	"halfshaft/services/vehicle"
)

// story is a hard case told by one vehicle of the fleet.
type story struct {
	draw     func(*car)         // before its years are drawn
	write    func(*works, *car) // after
	noOwner  bool               // nobody knows who owns it
	noMail   bool               // its owner can only be telephoned
	payer    bool               // somebody else pays, and a third looks after it
	sold     vehicle.Date       // the day it got a new owner
	executor vehicle.Date       // the day from which an executor answers for it
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
	w.add("use facts", cells{"serial": string(c.serial), "kind": kind, "start date": from, "end date": until, "note": note}, useColumns...)
}

var useColumns = []string{"serial", "id", "kind", "start date", "end date", "first month", "last month", "note"}

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

func (w *works) entry(c *car, id string, on vehicle.Date, items, note string) {
	w.add("service entries", cells{"serial": string(c.serial), "id": id, "service date": on.String(), "reading": c.shows(on), "items": items,
		"done by": workshops[c.n%len(workshops)], "note": note}, entryColumns...)
}

func (w *works) deviation(c *car, id, position, text string, on vehicle.Date) {
	w.add("deviations", cells{"serial": string(c.serial), "deviation": id, "position": position, "text": text, "approved by": "J. Harker, works' engineer", "approved date": on.String()},
		"serial", "deviation", "position", "text", "approved by", "approved date")
}

// stories are told by these vehicles, by their place in the fleet; STORIES.md
// says the same for people.
var stories = func() map[int]*story {
	all := maps.Clone(recordStories)
	maps.Copy(all, distanceStories)
	maps.Copy(all, scheduleStories)
	return all
}()

// recordStories are about what the vehicle is, whose it is, and which part fits.
var recordStories = map[int]*story{
	1: {draw: func(c *car) { c.upgraded = vehicle.MustDate(2017, 5, 4) }, write: func(w *works, c *car) { // upgraded part of the way
		w.change(c, cells{"id": "c1", "kind": "upgrade", "change date": "2017-05-04", "source": "works", "release": "R3",
			"positions": "air-cleaner; oil-filter", "reason": "owner asked for the paper element", "done by": "Aldermoor Works"})
	}},
	2: {write: func(w *works, c *car) { // a campaign part outranks the as-built entry
		w.change(c, cells{"id": "c1", "kind": "fit", "change date": "2018-03-12", "source": "campaign", "position": "brake-hydraulics", "part": "AP-4047",
			"component serial": "MC2201", "traits": "glycol-dot4", "reason": "campaign: master cylinder", "done by": "Harbour Road Garage"})
	}},
	3: {draw: func(c *car) { c.frame = "24-1O05O7" }}, // a frame number with the letter O in it, and a serial with the figure 0
	4: {draw: func(c *car) { c.without("lsd-rear") }, write: func(w *works, c *car) { // gives its rear differential away
		w.change(c, cells{"id": "c1", "kind": "remove", "change date": "2019-06-03", "source": "works", "position": "rear-axle-differential", "reason": "differential taken for AM01066", "done by": "Aldermoor Works"})
		w.change(c, cells{"id": "c2", "kind": "fit", "change date": "2019-06-03", "source": "works", "position": "rear-axle-differential", "part": "AP-3010", "component serial": "R9004", "lot": "L201905", "reason": "rebuilt unit fitted in its place", "done by": "Aldermoor Works"})
	}},
	5: {draw: func(c *car) { c.without("lsd-rear") }, write: func(w *works, c *car) { // and this one has it since
		w.change(c, cells{"id": "c1", "kind": "fit", "change date": "2019-06-10", "source": "works", "position": "rear-axle-differential", "part": "AP-3010", "component serial": "R1052",
			"lot": "L201202", "prior distance": "7380 mi", "bedding in date": "2012-02-29", "reason": "unit moved from AM01058, its distance worked out from that vehicle's readings", "done by": "Aldermoor Works"})
	}},
	6: {write: func(w *works, c *car) { // plates swapped
		w.change(c, cells{"id": "c1", "kind": "plate", "change date": "2016-08-01", "plate": "PH 1", "reason": "owner bought a plate"})
		w.change(c, cells{"id": "c2", "kind": "plate", "change date": "2021-02-01", "plate": "", "reason": "plate kept by the owner when sold"})
	}, sold: vehicle.MustDate(2021, 2, 1)},
	7: {write: func(w *works, c *car) { // an approved departure from the release
		w.deviation(c, "D1", "seat-belts", "Two belts instead of three: the middle seat gave way to the cubby box.", c.built.AddDays(-3))
		w.deviation(c, "D2", "", "Painted inside before the body went on the frame; the finish of the bulkhead was not renewed.", c.built.AddDays(-2))
	}},
	8: {write: func(w *works, c *car) { // wears the plate that the other had
		w.change(c, cells{"id": "c1", "kind": "plate", "change date": "2021-02-15", "plate": "PH 1", "reason": "plate bought from another owner"})
	}},
	9: {write: func(w *works, c *car) { // the owner's own modification
		w.change(c, cells{"id": "c1", "kind": "fit", "change date": "2020-09-09", "source": "owner", "position": "distributor", "part": "AP-1045", "traits": "electronic", "reason": "owner's own electronic ignition"})
	}},
	10: {},                                                                              // the later alternator needs the later battery, which it has
	11: {draw: func(c *car) { c.last = vehicle.MustDate(2025, 11, 28) }},                // a re-shim needs the kit that took the pack's place
	19: {},                                                                              // the frame is no longer to be had
	32: {draw: func(c *car) { c.last = vehicle.MustDate(2025, 11, 10) }, noOwner: true}, // nobody knows who owns it
	34: {sold: vehicle.MustDate(2024, 7, 1)},                                            // sold: the former owner hears no more
	35: {executor: vehicle.MustDate(2026, 3, 2)},                                        // the owner died, and the executor calls
	36: {payer: true},                                                                   // owner, caretaker and payer are three people
	48: {draw: func(c *car) { c.last = vehicle.MustDate(2025, 11, 20) }, noMail: true},  // an owner without a mail address
	57: {write: func(w *works, c *car) { // an option added after delivery, and one taken off
		w.change(c, cells{"id": "c1", "kind": "option added", "change date": "2026-02-10", "source": "works", "option": "free-wheel-hubs", "reading": c.shows(vehicle.MustDate(2026, 2, 10)), "reason": "ordered by the owner", "done by": "Aldermoor Works"})
		w.change(c, cells{"id": "c2", "kind": "option removed", "change date": "2026-02-10", "source": "works", "option": "tow-hitch", "reason": "no longer wanted", "done by": "Aldermoor Works"})
	}, draw: func(c *car) { c.without("free-wheel-hubs", "tow-hitch"); c.options = append(c.options, "tow-hitch") }},
}
