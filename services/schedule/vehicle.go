package schedule

import (
	"strings"

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
	CameFrom string           // serial of the vehicle that it was moved from; empty where that is not on record
	Earlier  []EarlierWork    // what was done to it before it came here, in any order
	Assumed  *vehicle.Reason  // says that what it is like is not on record but assumed; nil where it is known
}

// Fit is an item that applies to a vehicle and the component it looks after.
type Fit struct {
	Item    uint16 // index in the programme
	fitted  day    // noDay when it looks after the vehicle as a whole
	bedding day
	came    day // when the unit itself came; what was done here before was done to another. noDay where that does not matter
	prior   vehicle.Distance
	arrival *arrival        // nil for a unit that was bedded in here
	next    *Fit            // another component that the item looks after, where they are judged one by one
	assumed *vehicle.Reason // see Plan.assumed
}

// Fits gives each of the items that apply to a vehicle (see Applicable) its
// component: of several the one whose bedding-in began last. Where one of
// several came from elsewhere they are judged one by one, for each has a life
// of its own: what is due first decides.
func (p *Plan) Fits(on []uint16, components []Component) []Fit {
	fits := make([]Fit, len(on))
	for i, n := range on {
		fits[i] = p.fit(n, components)
		if why := p.assumed(n, components); why != nil {
			for f := &fits[i]; f != nil; f = f.next {
				f.assumed = why
			}
		}
	}
	return fits
}

// assumed is why it is not certain that an item is for the vehicle: its
// predicate names a position of which nobody knows what stands there; nil where
// it is certain.
func (p *Plan) assumed(n uint16, components []Component) *vehicle.Reason {
	if p.items[n].predicate == nil {
		return nil
	}
	for i := range components {
		c := &components[i]
		if c.Assumed != nil && strings.Contains(strings.ReplaceAll(p.items[n].AppliesWhen, "'", `"`), `"`+c.Position+`"`) {
			return c.Assumed
		}
	}
	return nil
}

func (p *Plan) fit(n uint16, components []Component) Fit {
	best := Fit{Item: n, fitted: noDay, bedding: noDay, came: noDay}
	chosen, moved := -1, false
	for k := range components {
		if !p.items[n].Covers(components[k].Position) {
			continue
		}
		one := p.fitOne(n, &components[k])
		moved = moved || one.arrival != nil
		if one.bedding > best.bedding {
			best, chosen = one, k
		}
	}
	if !moved {
		return best
	}
	for k := range components {
		if k != chosen && p.items[n].Covers(components[k].Position) {
			other := p.fitOne(n, &components[k])
			best.next, other.next = &other, best.next
		}
	}
	return best
}

// fitOne is an item with one component that it looks after.
func (p *Plan) fitOne(n uint16, comp *Component) Fit {
	came, bedding := dayOf(comp.Fitted), dayOf(comp.Bedding)
	if bedding == noDay {
		bedding = came
	}
	f := Fit{Item: n, fitted: bedding, bedding: bedding, came: came}
	if came > bedding { // it was bedded in elsewhere
		f.fitted, f.prior, f.arrival = came, comp.Prior, p.arrivalOf(n, comp)
	}
	if p.items[n].FirstFrom == FromDelivery {
		f.came, f.arrival = noDay, nil // it follows the vehicle, whatever stands there
	}
	return f
}
