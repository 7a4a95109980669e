package schedule

import "halfshaft/services/vehicle"

// ComponentDistance is how far one component has gone in its life, by a day.
type ComponentDistance struct {
	Position, Part, Serial, Lot string

	Fitted   vehicle.Date     // when it came here
	Days     int              // from then on
	Distance vehicle.Distance // from then on, true

	CameFrom  string           // resource name of the vehicle it came from, empty for none
	Prior     vehicle.Distance // before it came here
	PriorDays int              // on other vehicles, as far as they are on record

	Overhauled    vehicle.Date // the last time here; zero when it never was
	SinceOverhaul vehicle.Distance
}

// Total is how far it has gone in all.
func (c *ComponentDistance) Total() vehicle.Distance { return c.Distance + c.Prior }

// Sentence tells how far it has gone, in the unit of the vehicle's dial.
func (c *ComponentDistance) Sentence(unit vehicle.Unit) string {
	text := c.Distance.Text(unit) + " since it was fitted on " + c.Fitted.Long()
	if c.Prior > 0 || c.CameFrom != "" {
		text += ", and " + c.Prior.Text(unit) + " before that"
		if c.CameFrom != "" {
			text += ", when it came from " + c.CameFrom[len("vehicles/"):]
		}
		text += ": " + c.Total().Text(unit) + " in all"
	}
	if !c.Overhauled.IsZero() {
		text += "; " + c.SinceOverhaul.Text(unit) + " since it was overhauled on " + c.Overhauled.Long()
	}
	return text + "."
}

// DistanceAt is the true distance of the vehicle at something that was done to
// it: by what the dial showed then where somebody read it and the readings that
// count bear it out, else as estimated for the day. It is 0 before the
// delivery.
func (s *Schedule) DistanceAt(d vehicle.Date, shown vehicle.Entered) vehicle.Distance {
	if !shown.IsZero() && !d.Before(s.vehicle.Delivered) {
		if at, ok := s.Ledger.at(dayOf(d), shown); ok {
			return at
		}
	}
	return s.distanceOn(dayOf(d))
}

// at is the true distance at a reading that is no mark; false when the readings
// that count do not lead to it.
func (l *Ledger) at(d day, shown vehicle.Entered) (vehicle.Distance, bool) {
	if len(l.runs) == 0 {
		return 0, false
	}
	r := &l.runs[l.runOf(&Mark{Date: d.date(), Value: shown})]
	before, after := r.around(d)
	if before == nil || r.to <= d || shown.Unit != r.dial.Unit {
		return 0, false
	}
	x := doubt{run: r, before: before}
	n := node{day: d, value: x.on(shown)}
	if !r.follows(*before, n) || after != nil && n.value > after.value {
		return 0, false
	}
	for i := len(l.Points) - 1; i >= 0; i-- {
		if p := &l.Points[i]; p.day == before.day {
			return p.Distance + r.between(*before, n), true
		}
	}
	return 0, false
}
