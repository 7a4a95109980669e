package build

import (
	"slices"

	"halfshaft/services/vehicle"
)

// Specified is what the specification calls for at one position of a vehicle
// on a date, whatever stands there.
type Specified struct {
	Position string
	Part     string // empty where an option leaves the position empty
	Quantity int    // at least 1
	Release  string // whose standard the position follows
	Option   string // identifier of the option that decided; empty for the standard

	called called
}

// Reasons says step by step why this is called for.
func (s *Specified) Reasons() []vehicle.Reason {
	return s.called.reasons(spoken(s.Position))
}

// ConfigureSpecified is Configure, and beside what stands on the vehicle it
// tells what the specification calls for, in order of position: of a unit that
// was taken off, only this knows which one belongs there.
func ConfigureSpecified(rec Record, changes []Change, releases ReleaseSet, on vehicle.Date) (Configuration, []Specified, error) {
	r, err := replayTo(&rec, changes, releases, on)
	if err != nil {
		return Configuration{}, nil, err
	}
	conf := r.configuration()
	conf.On = on
	return conf, r.specified(), nil
}

// specified resolves every position that the vehicle's release, its options or
// its upgrades name.
func (r *replay) specified() []Specified {
	positions := make([]string, 0, len(r.base.Fitments)+len(r.upgraded))
	for i := range r.base.Fitments {
		positions = append(positions, r.base.Fitments[i].Position)
	}
	for _, use := range r.inForce {
		positions = append(positions, use.option.touches()...)
	}
	for position := range r.upgraded {
		positions = append(positions, position)
	}
	slices.Sort(positions)
	positions = slices.Compact(positions)
	all := make([]Specified, 0, len(positions))
	for _, position := range positions {
		c := r.call(position)
		s := Specified{Position: position, Part: c.part(), Quantity: c.count(), Release: c.release.ID, called: c}
		if c.option != nil {
			s.Option = c.option.ID
		}
		all = append(all, s)
	}
	return all
}
