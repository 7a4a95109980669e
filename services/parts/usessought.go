package parts

import (
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/fault"
)

// UseSearch is a question with what catalogue and records make of it: the
// parts to look for, and what each has to do with the one asked for.
type UseSearch struct {
	UseQuestion
	lot, serial string           // folded
	roles       map[string]*role // by folded number
	positions   []string         // where the catalogue puts the parts asked for
	unknown     string           // the part asked for, where the catalogue does not have it
	on          int32
}

// role is what a part has to do with those asked for.
type role struct {
	kind   roleKind
	number string          // as the catalogue writes it
	wanted string          // the part asked for that it concerns
	path   []*Supersession // how it is connected with the part that was named
}

type roleKind uint8

const (
	noRole    roleKind = iota
	sought             // it is asked for
	kit                // it holds one that is
	renewer            // one that is asked for is renewed with it
	rival              // it can stand where one that is asked for stands
	rivalKit           // it holds one that can
	neighbour          // it stands, or belongs, at a position for one that is asked for; what it was used for is open
)

// isAskedFor says whether it is, or may bring, what is asked for.
func (r *role) isAskedFor() bool { return r.kind == sought || r.kind == kit || r.kind == renewer }

// Search reads a question. usedOfLot is what service entries name of the lot,
// where a lot is asked for and no part. The error is of kind NotFound when
// nothing on record has the lot or serial.
func (x *UseIndex) Search(c *Catalogue, q UseQuestion, usedOfLot []UsedPart) (*UseSearch, error) {
	s := &UseSearch{
		UseQuestion: q, lot: build.Fold(q.Lot), serial: build.Fold(q.Serial),
		roles: map[string]*role{}, on: dayNumber(q.On),
	}
	named, err := x.named(c, s, usedOfLot)
	if err != nil {
		return nil, err
	}
	for _, number := range named {
		chain := c.chain(number)
		for _, link := range chain {
			kind := rival
			if link.number == number || q.WithSupersessions {
				kind = sought
			}
			s.add(role{kind: kind, number: link.number, wanted: number, path: link.path})
		}
	}
	for _, r := range s.of(sought) {
		if p := c.Part(r.number); p != nil {
			s.positions = append(s.positions, p.Positions...)
		}
		for _, a := range c.byPart[r.number] {
			s.positions = append(s.positions, a.Position)
		}
		s.addHolders(c, r.number, r.number)
	}
	for _, r := range s.of(rival) {
		s.addRivalKits(c, r.number)
	}
	s.positions = sortedUnique(s.positions)
	s.addNeighbours(x, c)
	return s, nil
}

// addNeighbours adds what else stands or belongs where the parts asked for may
// stand: a service that used it may have put it in their place.
func (s *UseSearch) addNeighbours(x *UseIndex, c *Catalogue) {
	positions := map[string]bool{}
	for _, position := range s.positions {
		positions[position] = true
	}
	for _, r := range s.of(sought) {
		for _, number := range c.family(r.number) {
			s.add(role{kind: neighbour, number: number})
			for _, a := range c.byPart[number] {
				positions[a.Position] = true
			}
		}
	}
	for position := range positions {
		for _, a := range c.applications.of(position) {
			for _, number := range c.family(a.Part) {
				if number != "" {
					s.add(role{kind: neighbour, number: number})
				}
			}
		}
	}
	for _, spot := range x.spots {
		if positions[spot.position] && spot.part != "" {
			s.add(role{kind: neighbour, number: spot.part})
		}
	}
}

// named gives the parts that a question is about, as far as possible as the
// catalogue writes them: the one that it names, else those that have the lot or
// the serial on record.
func (x *UseIndex) named(c *Catalogue, s *UseSearch, usedOfLot []UsedPart) ([]string, error) {
	write := func(number string) string {
		if p := c.Find(number); p != nil {
			return p.Number
		}
		return number
	}
	if s.Part != "" {
		if c.Find(s.Part) == nil {
			s.unknown = s.Part
		}
		return []string{write(s.Part)}, nil
	}
	var numbers []string
	for _, l := range append(slices.Clip(x.byLot[s.lot]), x.bySerial[s.serial]...) {
		for i := range l.stays {
			stay := &l.stays[i]
			if x.isMarked(stay, s) {
				numbers = append(numbers, write(x.names.text(stay.part)))
			}
		}
	}
	for i := range usedOfLot {
		numbers = append(numbers, write(usedOfLot[i].Part))
	}
	switch numbers = sortedUnique(numbers); {
	case len(numbers) > 0:
		return numbers, nil
	case s.serial != "":
		return nil, fault.New(fault.NotFound, "COMPONENT_NOT_FOUND",
			"No record names a component with the serial %s. With the part as well, the vehicles are found whose unit has no serial on record.", s.Serial)
	}
	return nil, fault.New(fault.NotFound, "LOT_NOT_FOUND",
		"No record names lot %s. With the part as well, the vehicles are found whose unit has no lot on record.", s.Lot)
}

// isMarked says whether a stay has the serial that is asked for; where none is,
// the lot.
func (x *UseIndex) isMarked(stay *useStay, s *UseSearch) bool {
	if s.serial != "" {
		return x.marks.folded(stay.serial) == s.serial
	}
	return x.marks.folded(stay.lot) == s.lot
}

// add keeps the role that says most of a part.
func (s *UseSearch) add(r role) {
	key := build.Fold(r.number)
	if was := s.roles[key]; was == nil || r.kind < was.kind {
		s.roles[key] = &r
	}
}

// addHolders adds what comes with a part: kits that hold it, kits that hold
// these, and parts with which any of them is renewed.
func (s *UseSearch) addHolders(c *Catalogue, held, wanted string) {
	for _, number := range sortedUnique(slices.Clone(c.holders[held])) {
		p := c.Part(number)
		if p == nil {
			continue
		}
		holds := slices.ContainsFunc(p.Contents, func(l Line) bool { return l.Part == held })
		kind := renewer
		if holds {
			kind = kit
		}
		if was := s.roles[build.Fold(number)]; was != nil && was.kind <= kind {
			continue // and so a kit that holds itself ends here
		}
		s.add(role{kind: kind, number: number, wanted: wanted})
		if holds {
			s.addHolders(c, number, wanted)
		}
	}
}

// addRivalKits adds the kits that hold a rival, and the kits that hold these.
func (s *UseSearch) addRivalKits(c *Catalogue, held string) {
	for _, number := range sortedUnique(slices.Clone(c.holders[held])) {
		p := c.Part(number)
		isKit := p != nil && slices.ContainsFunc(p.Contents, func(l Line) bool { return l.Part == held })
		if isKit && s.roles[build.Fold(number)] == nil {
			s.add(role{kind: rivalKit, number: number})
			s.addRivalKits(c, number)
		}
	}
}

// of gives the roles of a kind in order of number.
func (s *UseSearch) of(kind roleKind) []*role {
	var all []*role
	for _, r := range s.roles {
		if r.kind == kind {
			all = append(all, r)
		}
	}
	slices.SortFunc(all, func(a, b *role) int { return strings.Compare(a.number, b.number) })
	return all
}

// Parts gives, in order, the parts whose service entries bear on the answer.
func (s *UseSearch) Parts() []string {
	var numbers []string
	for _, r := range s.roles {
		numbers = append(numbers, r.number)
	}
	slices.Sort(numbers)
	return numbers
}

// link is a part of a chain and the supersessions between.
type link struct {
	number string
	path   []*Supersession
}

// chain is a part with what took its place and what it took the place of, over
// as many steps as there are, and not what else took the place of these.
func (c *Catalogue) chain(number string) []link {
	all := []link{{number: number}}
	seen := map[string]bool{number: true}
	follow := func(next func(string) []*Supersession, parts func(*Supersession) []string) {
		for queue := []link{{number: number}}; len(queue) > 0; queue = queue[1:] {
			for _, s := range next(queue[0].number) {
				for _, part := range parts(s) {
					if seen[part] {
						continue
					}
					seen[part] = true
					l := link{part, append(slices.Clip(queue[0].path), s)}
					all, queue = append(all, l), append(queue, l)
				}
			}
		}
	}
	follow(func(n string) []*Supersession { return c.byOld[n] }, func(s *Supersession) []string {
		var numbers []string
		for _, l := range s.New {
			numbers = append(numbers, l.Part)
		}
		return numbers
	})
	follow(func(n string) []*Supersession { return c.byNew[n] }, (*Supersession).olds)
	return all
}

// known gives where the component that is asked for stood, in order of time; nil
// when no serial is asked for.
func (s *UseSearch) known(x *UseIndex) []unitStay {
	if s.serial == "" {
		return nil
	}
	for _, l := range x.bySerial[s.serial] {
		for i := range l.stays {
			if x.marks.folded(l.stays[i].serial) == s.serial {
				return x.unit(unitStay{l, i})
			}
		}
	}
	return nil
}
