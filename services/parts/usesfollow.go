package parts

import (
	"cmp"
	"slices"
	"strings"

	"halfshaft/services/vehicle"
)

// unitStay is a stay of a unit, by its place in the index.
type unitStay struct {
	life *useLife
	at   int
}

func (u unitStay) stay() *useStay { return &u.life.stays[u.at] }

func byTime(a, b unitStay) int {
	return cmp.Or(
		cmp.Compare(a.stay().from, b.stay().from), cmp.Compare(a.stay().until, b.stay().until),
		cmp.Compare(a.life.serial, b.life.serial), cmp.Compare(a.at, b.at),
	)
}

// mostStays is how many stays of one unit are followed: a record that leads in
// a circle must not.
const mostStays = 100

// unit gives all stays of the unit of a stay, in order of time: by the halves of
// moves, and by its serial.
func (x *UseIndex) unit(of unitStay) []unitStay {
	all := []unitStay{of}
	seen := map[unitStay]bool{of: true}
	add := func(u unitStay) {
		if !seen[u] && len(all) < mostStays {
			seen[u] = true
			all = append(all, u)
		}
	}
	for i := 0; i < len(all); i++ {
		u := all[i]
		s := u.stay()
		if s.further {
			add(unitStay{u.life, u.at - 1})
		}
		if next := u.at + 1; next < len(u.life.stays) && u.life.stays[next].further {
			add(unitStay{u.life, next})
		}
		if other, ok := x.half(u.life.counterpart(s.began), func(s *useStay) uint16 { return s.ended }); ok {
			add(other)
		}
		if other, ok := x.half(u.life.counterpart(s.ended), func(s *useStay) uint16 { return s.began }); ok {
			add(other)
		}
		for _, l := range x.bySerial[x.marks.folded(s.serial)] {
			for i := range l.stays {
				if x.marks.fold[l.stays[i].serial] == x.marks.fold[s.serial] {
					add(unitStay{l, i})
				}
			}
		}
	}
	slices.SortFunc(all, byTime)
	return all
}

// half finds the stay that a change began or ended, by the change's resource
// name.
func (x *UseIndex) half(change string, by func(*useStay) uint16) (unitStay, bool) {
	owner, id, ok := strings.Cut(strings.TrimPrefix(change, "builds/"), "/changes/")
	l := x.lives[vehicle.Serial(owner)]
	if !ok || l == nil {
		return unitStay{}, false
	}
	number := slices.IndexFunc(l.changes, func(c useChange) bool { return c.id == id }) + 1
	for i := range l.stays {
		if number > 0 && by(&l.stays[i]) == uint16(number) {
			return unitStay{l, i}, true
		}
	}
	return unitStay{}, false
}

// isAlone says whether nothing leads from a stay to others of the same unit, as
// nothing does from most.
func (l *useLife) isAlone(s *useStay) bool {
	return s.serial == 0 && l.counterpart(s.began) == "" && l.counterpart(s.ended) == ""
}

// neighbours gives the stays before and after one, of the same unit: what an
// overhaul made of it where it stands is not another.
func (x *UseIndex) neighbours(of unitStay) (before, after *unitStay) {
	all := x.unit(of)
	at := slices.Index(all, of)
	here := func(u unitStay) bool { return x.root(u) == x.root(of) }
	for i := at - 1; i >= 0 && before == nil; i-- {
		if !here(all[i]) {
			before = &all[i]
		}
	}
	for i := at + 1; i < len(all) && after == nil; i++ {
		if !here(all[i]) {
			after = &all[i]
		}
	}
	return before, after
}

// root is the stay with which a unit came to its position.
func (x *UseIndex) root(u unitStay) unitStay {
	for u.stay().further {
		u.at--
	}
	return u
}

// markElsewhere finds what other records of the same unit say of a mark: its
// lot or its serial. from is where it was found.
func (x *UseIndex) markElsewhere(of unitStay, mark func(*useStay) uint32) (found uint32, from unitStay) {
	if of.life.isAlone(of.stay()) {
		return 0, unitStay{}
	}
	for _, u := range x.unit(of) {
		if m := mark(u.stay()); m != 0 {
			return m, u
		}
	}
	return 0, unitStay{}
}

func lotMark(s *useStay) uint32    { return s.lot }
func serialMark(s *useStay) uint32 { return s.serial }
