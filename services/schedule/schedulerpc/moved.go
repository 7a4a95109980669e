package schedulerpc

import (
	"slices"

	"halfshaft/services/build"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// movedHere says whether something stands on a vehicle that was moved there.
func movedHere(conf *build.Configuration, changes []build.Change) bool {
	for i := range changes {
		c := &changes[i]
		if c.Counterpart == "" || c.Kind != build.Fit {
			continue
		}
		if f := conf.At(c.Component.Position); f != nil && f.Change == c.Name() {
			return true
		}
	}
	return false
}

// arrived gives the components of a vehicle with what is known of those that
// were moved there: what was done to each where it stood before, and how far it
// had gone.
func (s *Service) arrived(known *known, components []schedule.Component, on vehicle.Date) ([]schedule.Component, error) {
	t := trail{service: s, on: on, lives: map[vehicle.Serial]*lived{}}
	here, err := t.life(known.serial)
	if err != nil {
		return nil, err
	}
	out := slices.Clone(components)
	for i := range out {
		stay := here.standsAt(out[i].Position, on)
		if stay == nil {
			continue
		}
		if err := t.arrival(here, stay, known.serial, &out[i]); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// standsAt is the stay of the unit that stands at a position at the end of a
// day; nil for none.
func (l *lived) standsAt(position string, on vehicle.Date) *build.Stay {
	stays := l.timeline.At(position)
	for i := len(stays) - 1; i >= 0; i-- {
		if s := &stays[i]; !s.From.After(on) && (s.Until.IsZero() || s.Until.After(on)) {
			return s
		}
	}
	return nil
}

// arrival follows a unit back over the vehicles that it stood in.
func (t *trail) arrival(here *lived, stay *build.Stay, self vehicle.Serial, c *schedule.Component) error {
	serial, there, source, err := t.source(here, stay)
	if err != nil || source == nil {
		return err
	}
	c.CameFrom = string(serial)
	if _, c.Prior, _, err = t.before(here, stay, mostMoves); err != nil {
		return err
	}
	gone := vehicle.Distance(0) // after the stay looked at, before it came here
	for range mostMoves {
		end := there.end(source)
		if there.programme == here.programme { // what another programme calls so is not known to be the same
			where := string(serial)
			if serial == self && source.Component.Position != stay.Component.Position {
				where = "" // it changed places
			}
			c.Earlier = append(c.Earlier, there.workOn(source, where, gone)...)
		}
		if !c.Bedding.Before(source.From) && c.Bedding.Before(source.Until) && c.Bedding != source.From {
			c.Prior = gone + max(0, end-there.overhauled(source, c.Bedding)) // it was overhauled there
		}
		gone += max(0, end-there.begin(source))
		if serial, there, source, err = t.source(there, source); err != nil || source == nil {
			return err
		}
	}
	return nil
}

// workOn gives what was done on a vehicle while a unit stood there. Work of the
// day on which the unit left is not counted: it was done to the next. gone is how
// far the unit went after it had left.
func (l *lived) workOn(stay *build.Stay, where string, gone vehicle.Distance) []schedule.EarlierWork {
	end := l.end(stay)
	var all []schedule.EarlierWork
	for i := range l.past.done {
		e := &l.past.done[i]
		if e.Date.Before(stay.From) || !e.Date.Before(stay.Until) {
			continue
		}
		var shown vehicle.Entered
		if e.Mark >= 0 {
			shown = l.past.marks[e.Mark].Value
		}
		w := schedule.EarlierWork{
			Date: e.Date, Position: stay.Component.Position, Vehicle: where, Record: e.Record,
			Since: gone + max(0, end-l.schedule.DistanceAt(e.Date, shown)),
		}
		for _, id := range e.Items {
			w.Item = id
			all = append(all, w)
		}
	}
	return all
}

// overhauled is the true distance of the vehicle at an overhaul of a unit.
func (l *lived) overhauled(stay *build.Stay, on vehicle.Date) vehicle.Distance {
	for i := range stay.Overhauls {
		if o := &stay.Overhauls[i]; o.Date == on {
			return l.schedule.DistanceAt(on, o.Reading)
		}
	}
	return l.schedule.DistanceAt(on, vehicle.Entered{})
}
