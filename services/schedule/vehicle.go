package schedule

import (
	"halfshaft/services/vehicle"
)

// Vehicle is all that the schedule of one vehicle rests on. Facts may be in
// any order; those of later days than the one asked for are not looked at,
// except declared lay-ups and use.
type Vehicle struct {
	Delivered vehicle.Date // zero while it is at the works: then nothing is due
	Fits      []Fit        // the items that apply, by Plan.Fits
	Segments  []Segment    // in order of time
	Marks     []Mark
	Entries   []Entry
	Events    []Event
	Uses      []UseFact
	Habits    Habits // of the fleet
}

// Entry is work done; entries struck out are left out.
type Entry struct {
	Date   vehicle.Date
	Record string // resource name
	Items  []string
	Mark   int // index of its reading in Vehicle.Marks, -1 for none
}

// Event is something that happened.
type Event struct {
	Kind   EventKind
	Date   vehicle.Date
	Record string
	Mark   int // as in Entry
}

// Component is what stands at a position on the day asked for.
type Component struct {
	Position string
	Fitted   vehicle.Date     // when it came to this vehicle
	Bedding  vehicle.Date     // when its bedding-in began: its fitting, its last overhaul, or its fitting elsewhere
	Prior    vehicle.Distance // what it had covered since then when it came here
}

// Fit is an item that applies to a vehicle and the component it looks after.
type Fit struct {
	Item    uint16 // index in the programme
	fitted  day    // noDay when it looks after the vehicle as a whole
	bedding day
	prior   vehicle.Distance
}

// Fits gives each of the items that apply to a vehicle (see Applicable) its
// component: of several the one whose bedding-in began last.
func (p *Plan) Fits(on []uint16, components []Component) []Fit {
	fits := make([]Fit, len(on))
	for i, n := range on {
		fits[i] = Fit{Item: n, fitted: noDay, bedding: noDay}
		for k := range components {
			comp := &components[k]
			if !p.items[n].Covers(comp.Position) {
				continue
			}
			bedding := dayOf(comp.Bedding)
			if bedding == noDay {
				bedding = dayOf(comp.Fitted)
			}
			if bedding <= fits[i].bedding {
				continue
			}
			fits[i].fitted, fits[i].bedding, fits[i].prior = bedding, bedding, 0
			if came := dayOf(comp.Fitted); came > bedding { // it was bedded in elsewhere
				fits[i].fitted, fits[i].prior = came, comp.Prior
			}
		}
	}
	return fits
}
