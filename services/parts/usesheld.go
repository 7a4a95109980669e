package parts

import (
	"encoding/binary"
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

type heldKey struct {
	setup   *useSetup  // or, where vehicles with one makeup are alike,
	makeup  *useMakeup // that, and
	release string     // what the position follows
	place   *catalogPlace
	isUsed  bool
}

// held gives the applications that hold or may hold at a site.
func (w *vehicleUses) held(site *useSite, setup *useSetup, day int32) []verdict[*Application] {
	place := site.place
	bySetup := heldKey{setup: setup, place: place, isUsed: site.isUsed}
	if !place.isAlike {
		return w.judge(site, setup, day, nil)
	}
	held, ok := w.heldBy[bySetup]
	if ok {
		return held
	}
	switch open := w.notKnown(place, setup); {
	case place.asks && !place.together && len(open) == 0:
		key := heldKey{makeup: w.makeup(setup), release: setup.follows(place.root), place: place, isUsed: site.isUsed}
		if held, ok = w.heldBy[key]; !ok {
			held = w.judge(site, setup, day, nil)
			w.heldBy[key] = held
		}
	default:
		held = w.judge(site, setup, day, open)
	}
	w.heldBy[bySetup] = held
	return held
}

// judge works out which applications hold or may hold at a site. open are the
// positions of units of which it is not known what they are like, as far as the
// rows ask.
func (w *vehicleUses) judge(site *useSite, setup *useSetup, day int32, open []string) []verdict[*Application] {
	place := site.place
	subject := &subject{
		serial: w.life.serial, release: setup.follows(place.root), options: setup.options, built: dateOfDay(w.life.built), market: setup.market,
	}
	if place.asks {
		subject.makeup = &w.makeup(setup).Makeup
	}
	if place.together {
		around := circumstances{catalogue: w.catalogue, on: w.On, fitted: setup.fitted(), found: map[string]bool{}}
		subject.anywhere = around.anywhere
	}
	if !place.isAlike {
		w.lotsOn(place, day, subject)
		open = w.notKnown(place, setup)
	}
	held, others := decide(place.rows, subject)
	// What a unit is like is assumed of some, and that excludes nothing.
	isOpen := func(a *Application) bool {
		return slices.ContainsFunc(open, func(position string) bool { return mentions(a.Conditions.AppliesWhen, position) })
	}
	isAnyOpen := slices.ContainsFunc(place.rows, isOpen)
	for i := range held {
		if isOpen(held[i].row) {
			held[i].is = unknown
		}
	}
	for _, v := range others {
		if v.why == byPredicate && isOpen(v.row) || v.is != no && isAnyOpen {
			held = append(held, verdict[*Application]{v.row, unknown, byPredicate})
		}
	}
	for _, v := range others {
		// With an assembly from elsewhere comes what was right there; only what
		// the assembly itself is like excludes something.
		c := &v.row.Conditions
		isItself := mentions(c.AppliesWhen, place.root) && c.meets(byPredicate, subject) == no || c.meets(byLot, subject) == no
		if site.isUsed && !isItself && !slices.ContainsFunc(held, func(h verdict[*Application]) bool { return h.row == v.row }) {
			held = append(held, verdict[*Application]{v.row, unknown, v.why})
		}
	}
	return held
}

// lotsOn adds what is on record of the lots of the assembly and of what is
// between.
func (w *vehicleUses) lotsOn(place *catalogPlace, day int32, s *subject) {
	for _, position := range append([]string{place.position, place.root}, place.within...) {
		id := w.nameID(position)
		for i := range w.life.stays {
			switch stay := &w.life.stays[i]; {
			case stay.position != id || stay.from > day || stay.until <= day:
			case w.index.marks.folded(stay.lot) == "":
				s.bare = true
			default:
				s.lots = append(s.lots, w.index.marks.text(stay.lot))
			}
		}
	}
}

// useMakeup is what expressions can ask of a setup.
type useMakeup struct{ vehicle.Makeup }

// makeup gives what expressions can ask of a setup. Most differ by nothing that
// they see.
func (run *usesRun) makeup(setup *useSetup) *useMakeup {
	key := append(run.key[:0], setup.head...)
	for _, spot := range setup.spots {
		key = binary.LittleEndian.AppendUint32(key, run.look(spot).number)
	}
	run.key = key
	if known := run.makeups[string(key)]; known != nil {
		return known
	}
	conf := build.Configuration{
		Release: setup.release, Options: setup.options, Wheelbase: setup.wheelbase, Market: setup.market, Fitted: setup.fitted(),
	}
	m := &useMakeup{run.catalogue.MakeupOf(&conf)}
	run.makeups[string(key)] = m
	return m
}

// notKnown gives the positions of units of which it is assumed, or not known,
// what they are like, as far as the rows of a place ask.
func (run *usesRun) notKnown(place *catalogPlace, setup *useSetup) (positions []string) {
	if !place.asks {
		return nil
	}
	for _, spot := range setup.spots {
		if run.look(spot).isOpen && place.mentions(spot.position) {
			positions = append(positions, spot.position)
		}
	}
	return positions
}

// mentions says whether an expression of a row names a position.
func (p *catalogPlace) mentions(position string) bool {
	is, ok := p.mentioned[position]
	if !ok {
		is = slices.ContainsFunc(p.rows, func(a *Application) bool { return mentions(a.Conditions.AppliesWhen, position) })
		p.mentioned[position] = is
	}
	return is
}

// look is what expressions see of a spot.
type look struct {
	number uint32 // from 1: one for what looks alike
	isOpen bool   // it is assumed, or not known, what the unit is like
}

func (run *usesRun) look(spot *useSpot) look {
	if l := run.looks[spot.number]; l.number != 0 {
		return l
	}
	f := spot.fitted()
	traits, isAssumed := run.catalogue.traitsOf(&f)
	isUnknown := f.TraitsFrom == build.TraitsUnknown && run.catalogue.described(&f) == nil
	key := strings.Join(append([]string{spot.position}, traits...), separator)
	if run.lookOf[key] == 0 {
		run.lookOf[key] = uint32(len(run.lookOf) + 1)
	}
	run.looks[spot.number] = look{run.lookOf[key], isAssumed || isUnknown}
	return run.looks[spot.number]
}
