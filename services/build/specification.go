package build

import "slices"

// called is what the specification calls for at a position of one vehicle.
type called struct {
	release  *Release // whose standard the position follows
	standard *Fitment // what the release has there, nil for nothing
	fitment  *Fitment // what is called for, with the options; nil for nothing
	option   *Option  // the option that decided, nil for none
	upgrade  *Change  // the change since which the position follows the release; nil from the build on
}

// within is the position of the assembly that what is called for is in; what an
// option puts in place of the standard is in the same one, unless it says another.
func (c called) within() string {
	if c.fitment != nil && c.fitment.Within != "" {
		return c.fitment.Within
	}
	if c.fitment != nil && c.standard != nil {
		return c.standard.Within
	}
	return ""
}

// optionUse is an option in force and the release that it was taken from.
type optionUse struct {
	option  *Option
	release *Release
}

// callFor resolves a position: the release that it follows, then each option
// in force in turn. A release that has an option of the same name decides what
// that option is at its positions; an option taken from another release
// applies as it is there.
func callFor(position string, follows *Release, inForce []optionUse) called {
	c := called{release: follows, standard: follows.Fitment(position)}
	c.fitment = c.standard
	for _, use := range inForce {
		option := use.option
		if own := follows.Option(option.ID); own != nil {
			option = own
		}
		if f := option.Fitment(position); f != nil {
			c.fitment, c.option = f, option
		} else if slices.Contains(option.Removes, position) {
			c.fitment, c.option = nil, option
		}
	}
	return c
}

// part is the part called for; empty for none.
func (c called) part() string {
	if c.fitment == nil {
		return ""
	}
	return c.fitment.Part
}

// unit is the component as the specification describes it.
func (c called) unit(position string) Component {
	u := Component{Position: position}
	if c.fitment != nil {
		u.Part, u.Traits, u.Note = c.fitment.Part, c.fitment.Traits, c.fitment.Note
	}
	return u
}

func (c called) count() int {
	if c.fitment == nil {
		return 1
	}
	return c.fitment.Count()
}

// origin is the specification's own origin of what it calls for.
func (c called) origin() Origin {
	if c.option != nil {
		return FromOption
	}
	return FromRelease
}
