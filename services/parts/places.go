package parts

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/wording"
)

// Places knows where the releases put which part, and every position that
// they name. It is made anew when a release is added, and never changed.
type Places struct {
	byPart     map[string][]place
	byPosition map[string][]place
	byWords    map[string][]string // positions by their words in order, see wordKey
	families   map[string][]string // positions by their words without directions
}

// place is one fitment of a release.
type place struct {
	release, option, position, part string
}

// NewPlaces reads all releases.
func NewPlaces(releases build.ReleaseSet) *Places {
	p := &Places{
		byPart: map[string][]place{}, byPosition: map[string][]place{},
		byWords: map[string][]string{}, families: map[string][]string{},
	}
	for _, id := range slices.Sorted(maps.Keys(releases)) {
		r := releases[id]
		for _, f := range r.Fitments {
			p.add(place{id, "", f.Position, f.Part})
		}
		for _, o := range r.Options {
			for _, f := range o.Fitments {
				p.add(place{id, o.ID, f.Position, f.Part})
			}
		}
	}
	for position := range p.byPosition {
		a := understand(position)
		whole, family := a.key(), wordKey(a.words)
		p.byWords[whole] = append(p.byWords[whole], position)
		p.families[family] = append(p.families[family], position)
	}
	for _, lists := range []map[string][]string{p.byWords, p.families} {
		for _, list := range lists {
			slices.Sort(list)
		}
	}
	return p
}

func (p *Places) add(one place) {
	p.byPart[one.part] = append(p.byPart[one.part], one)
	p.byPosition[one.position] = append(p.byPosition[one.position], one)
}

// wordKey makes words comparable whatever their order.
func wordKey(words []string) string { return strings.Join(sortedUnique(slices.Clone(words)), " ") }

// positions finds the positions that a question names: in any order of words,
// or all that differ only by the directions left out.
func (p *Places) positions(a asked) []string {
	if len(a.words) == 0 {
		return nil
	}
	if exact := p.byWords[a.key()]; exact != nil {
		return exact
	}
	var meant []string
	for _, position := range p.families[wordKey(a.words)] {
		if a.directed(position, EitherHand) {
			meant = append(meant, position)
		}
	}
	return meant
}

// describe writes places for people, one line for each position and option:
// "the winch in release R3 and R4, with the option winch".
func describe(places []place) []string {
	type at struct{ position, option, part string }
	releases := map[at][]string{}
	var order []at
	for _, one := range places {
		key := at{one.position, one.option, one.part}
		if releases[key] == nil {
			order = append(order, key)
		}
		releases[key] = append(releases[key], one.release)
	}
	lines := make([]string, len(order))
	for i, key := range order {
		lines[i] = fmt.Sprintf("%s at the %s in release %s", key.part, spoken(key.position), wording.List(sortedUnique(releases[key]), "and"))
		if key.option != "" {
			lines[i] += ", with the option " + key.option
		}
	}
	return sortedUnique(lines)
}

// belongs says where a part does belong: where the releases put it or one that
// a supersession connects it with, what it comes with, or at least what its
// own entry says.
func (a *Answerer) belongs(p *Part) []string {
	var places []place
	family := a.Catalogue.family(p.Number)
	for _, number := range family {
		places = append(places, a.Places.byPart[number]...)
	}
	lines := describe(places)
	for _, number := range family {
		for _, row := range a.Catalogue.byPart[number] {
			lines = append(lines, row.belongs())
		}
	}
	for _, number := range family {
		for _, holder := range sortedUnique(slices.Clone(a.Catalogue.holders[number])) {
			lines = append(lines, fmt.Sprintf("with %s (%s)", holder, a.Catalogue.Part(holder).Title))
		}
	}
	if len(lines) > 0 {
		return lines
	}
	for _, position := range p.Positions {
		lines = append(lines, "the "+spoken(position))
	}
	if len(p.Releases) > 0 {
		lines = append(lines, "release "+wording.List(p.Releases, "and"))
	}
	return lines
}

// belongs says where the part of an application belongs: "AP-30102 at the
// pinion seal: release R3 or R4".
func (a *Application) belongs() string {
	if holds := a.Conditions.words(); holds != "" {
		return fmt.Sprintf("%s at the %s: %s", a.Part, spoken(a.Position), holds)
	}
	return fmt.Sprintf("%s at the %s of every vehicle that has it", a.Part, spoken(a.Position))
}

// family is a part, and every part that supersessions connect it with in
// either direction.
func (c *Catalogue) family(number string) []string {
	all := []string{number}
	add := func(other string) {
		if !slices.Contains(all, other) {
			all = append(all, other)
		}
	}
	for i := 0; i < len(all); i++ {
		for _, s := range c.byOld[all[i]] {
			for _, l := range s.New {
				add(l.Part)
			}
		}
		for _, s := range c.byNew[all[i]] {
			for _, old := range s.olds() {
				add(old)
			}
		}
	}
	return all
}
