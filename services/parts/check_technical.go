package parts

import (
	"fmt"
	"maps"
	"regexp"
	"slices"

	"halfshaft/services/build"
	"halfshaft/services/wording"
)

// technical checks that positions, applications, settings and capacities name
// what there is.
func (k *checker) technical() {
	named := namedPositions(k.releases)
	for _, id := range k.catalogue.positions.keys {
		k.position(k.catalogue.positions.Get(id), named)
	}
	k.circles("within", k.catalogue.positions.keys, PositionName, "an assembly that is not on itself", func(id string) []string {
		if p := k.catalogue.positions.Get(id); p != nil && p.Within != "" {
			return []string{p.Within}
		}
		return nil
	})
	for _, id := range k.catalogue.applications.keys {
		a := k.catalogue.applications.Get(id)
		k.place(a.record(), a.Position, named)
		if a.Part != "" {
			k.known(a.record(), "part", a.Part)
			if p := k.catalogue.Part(a.Part); p != nil && !k.catalogue.mayStand(p, a.Position) {
				k.add(a.record(), "part", a.Part, fmt.Sprintf("a part that may stand at the %s; its own entry says: %s", spoken(a.Position), spoken(wording.List(p.Positions, "or"))))
			}
		}
		k.conditions(a)
	}
	for _, id := range k.catalogue.settings.keys {
		s := k.catalogue.settings.Get(id)
		k.place(s.record(), s.Position, named)
		k.conditions(s)
		if s.Shims != nil {
			for i, size := range s.Shims.Sizes {
				if size.Part != "" {
					k.known(s.record(), fmt.Sprintf("shim_sizes[%d].part", i), size.Part)
				}
			}
		}
	}
	for _, id := range k.catalogue.capacities.keys {
		c := k.catalogue.capacities.Get(id)
		k.place(c.record(), c.Position, named)
		k.conditions(c)
	}
}

// namedPositions are those that the releases name.
func namedPositions(releases build.ReleaseSet) map[string]bool {
	named := map[string]bool{}
	for _, r := range releases {
		for _, f := range r.Fitments {
			named[f.Position] = true
		}
		for _, o := range r.Options {
			for _, f := range o.Fitments {
				named[f.Position] = true
			}
		}
	}
	return named
}

func (k *checker) position(p *Position, named map[string]bool) {
	record := PositionName(p.ID)
	switch {
	case p.Within != "":
		if len(k.releases) > 0 && !named[p.Within] && k.catalogue.positions.Get(p.Within) == nil {
			k.add(record, "within", p.Within, "a position of a release or of the catalogue")
		}
		if named[p.ID] {
			k.add(record, "within", p.Within, "nothing, for the releases name this position themselves")
		}
		if k.whole && len(k.catalogue.applications.of(p.ID)) == 0 {
			k.add(record, "name", p.ID, "an application that says which part belongs there, or why none does")
		}
	case len(k.releases) > 0 && !named[p.ID]:
		k.add(record, "name", p.ID, "a position of a release, or the assembly that it is on as within")
	}
}

func (k *checker) place(record, position string, named map[string]bool) {
	if len(k.releases) > 0 && !named[position] && k.catalogue.positions.Get(position) == nil {
		k.add(record, "position", position, "a position of a release or of the catalogue")
	}
}

// conditions asks whether what the conditions of a row name is there.
func (k *checker) conditions(r row) {
	c := r.conditions()
	for i, number := range c.Together {
		k.known(r.record(), fmt.Sprintf("conditions.together_with[%d]", i), number)
	}
	for _, p := range k.catalogue.compiled[c.AppliesWhen].problems {
		k.add(r.record(), "conditions.applies_when", c.AppliesWhen, p.String())
	}
	if len(k.releases) == 0 {
		return
	}
	k.named(r, c.AppliesWhen)
	for i, id := range c.Releases {
		if k.releases[id] == nil {
			k.add(r.record(), fmt.Sprintf("conditions.releases[%d]", i), id, "a release that there is")
		}
	}
	for _, named := range []struct {
		path    string
		options []string
	}{{"options", c.Options}, {"without_options", c.Without}} {
		for i, id := range named.options {
			if !k.offered(id, c.Releases) {
				k.add(r.record(), fmt.Sprintf("conditions.%s[%d]", named.path, i), id, "an option of a release that the row is for")
			}
		}
	}
}

// What an expression looks for by name: an option in force, a position that is
// fitted.
var (
	optionSought   = regexp.MustCompile(`"([^"]*)"\s+in\s+options\b`)
	positionSought = regexp.MustCompile(`"([^"]*)"\s+in\s+fitted\b(?:[^\[]|$)|\bfitted\["([^"]*)"\]`)
)

// named asks whether the options and positions that an expression looks for are
// there: a slip of the pen would otherwise just never hold.
func (k *checker) named(r row, expression string) {
	if expression == "" {
		return
	}
	for _, m := range optionSought.FindAllStringSubmatch(expression, -1) {
		if !k.offered(m[1], r.conditions().Releases) {
			k.add(r.record(), "conditions.applies_when", m[1], "an option of a release that the row is for")
		}
	}
	named := namedPositions(k.releases)
	for _, m := range positionSought.FindAllStringSubmatch(expression, -1) {
		if position := m[1] + m[2]; !named[position] {
			k.add(r.record(), "conditions.applies_when", position, "a position of a release")
		}
	}
}

// mayStand says whether a part may stand at a position, by its own entry: there,
// or on the assembly there. An entry without positions says nothing.
func (t *technical) mayStand(p *Part, position string) bool {
	if len(p.Positions) == 0 || slices.Contains(p.Positions, position) {
		return true
	}
	for range deepest {
		at := t.positions.Get(position)
		if at == nil || at.Within == "" {
			return false
		}
		if position = at.Within; slices.Contains(p.Positions, position) {
			return true
		}
	}
	return false
}

// offered says whether any of the releases, or of all, has an option.
func (k *checker) offered(option string, releases []string) bool {
	if len(releases) == 0 {
		releases = slices.Collect(maps.Keys(k.releases))
	}
	return slices.ContainsFunc(releases, func(id string) bool {
		r := k.releases[id]
		return r != nil && r.Option(option) != nil
	})
}
