package parts

import (
	"slices"
	"strings"

	"halfshaft/services/vehicle"
)

// technical is the part of a catalogue that says what belongs where: positions,
// applications, settings and capacities.
type technical struct {
	positions    Register[Position]
	applications Register[Application]
	settings     Register[Setting]
	capacities   Register[Capacity]
	byPart       map[string][]*Application // in order of identifier
	placeNames   placeNames
	namesStale   bool

	predicates vehicle.PredicateCompiler
	compiled   map[string]compiled
}

// compiled is an expression made ready, or what is wrong with it.
type compiled struct {
	predicate vehicle.Predicate
	problems  []vehicle.Problem
}

func newTechnical() technical {
	return technical{
		positions: newRegister[Position](), applications: newRegister[Application](), settings: newRegister[Setting](),
		capacities: newRegister[Capacity](), byPart: map[string][]*Application{}, compiled: map[string]compiled{},
	}
}

// Expressions gives the catalogue what it evaluates expressions with. Without
// it a row that has one never holds. It is to be called first.
func (c *Catalogue) Expressions(compiler vehicle.PredicateCompiler) { c.predicates = compiler }

// compile makes the expression of conditions ready.
func (t *technical) compile(c *Conditions) {
	if c.AppliesWhen == "" || t.predicates == nil {
		return
	}
	done, ok := t.compiled[c.AppliesWhen]
	if !ok {
		done.predicate, done.problems = t.predicates.Compile(c.AppliesWhen)
		t.compiled[c.AppliesWhen] = done
	}
	c.predicate = done.predicate
}

// Positions gives the positions.
func (c *Catalogue) Positions() *Register[Position] { return &c.positions }

// Applications gives the applications.
func (c *Catalogue) Applications() *Register[Application] { return &c.applications }

// Settings gives the settings.
func (c *Catalogue) Settings() *Register[Setting] { return &c.settings }

// Capacities gives the capacities.
func (c *Catalogue) Capacities() *Register[Capacity] { return &c.capacities }

// PutPosition takes a position in, in place of the one of that identifier.
func (c *Catalogue) PutPosition(p Position) {
	c.positions.put(p)
	c.unsealed, c.namesStale = true, true
}

// RemovePosition takes a position out; one that is not there is no error. So
// with the other records.
func (c *Catalogue) RemovePosition(id string) {
	c.positions.remove(id)
	c.unsealed, c.namesStale = true, true
}

// PutApplication takes an application in, in place of the one of that
// identifier.
func (c *Catalogue) PutApplication(a Application) {
	c.RemoveApplication(a.ID)
	c.compile(&a.Conditions)
	c.applications.put(a)
	if a.Part != "" {
		kept := c.applications.Get(a.ID)
		at, _ := slices.BinarySearchFunc(c.byPart[a.Part], a.ID, func(e *Application, id string) int { return strings.Compare(e.ID, id) })
		c.byPart[a.Part] = slices.Insert(c.byPart[a.Part], at, kept)
	}
	c.unsealed = true
}

// RemoveApplication takes an application out.
func (c *Catalogue) RemoveApplication(id string) {
	if old := c.applications.Get(id); old != nil {
		if left := without(c.byPart[old.Part], old); len(left) > 0 {
			c.byPart[old.Part] = left
		} else {
			delete(c.byPart, old.Part)
		}
		c.applications.remove(id)
		c.unsealed = true
	}
}

// PutSetting takes a setting in, in place of the one of that identifier.
func (c *Catalogue) PutSetting(s Setting) {
	c.compile(&s.Conditions)
	c.settings.put(s)
	c.unsealed = true
}

// RemoveSetting takes a setting out.
func (c *Catalogue) RemoveSetting(id string) {
	c.settings.remove(id)
	c.unsealed = true
}

// PutCapacity takes a capacity in, in place of the one of that identifier.
func (c *Catalogue) PutCapacity(f Capacity) {
	c.compile(&f.Conditions)
	c.capacities.put(f)
	c.unsealed = true
}

// RemoveCapacity takes a capacity out.
func (c *Catalogue) RemoveCapacity(id string) {
	c.capacities.remove(id)
	c.unsealed = true
}

func (t *technical) seal() {
	t.positions.seal()
	t.applications.seal()
	t.settings.seal()
	t.capacities.seal()
	if t.namesStale {
		t.placeNames = namesOf(&t.positions)
		t.namesStale = false
	}
}

// deepest is how many assemblies may stand within each other; Check refuses
// circles, and more.
const deepest = 8

// assembly is the position of the assembly that a position is on, as the
// releases name it; itself for one that is on none.
func (t *technical) assembly(position string) string {
	for range deepest {
		p := t.positions.Get(position)
		if p == nil || p.Within == "" {
			return position
		}
		position = p.Within
	}
	return position
}
