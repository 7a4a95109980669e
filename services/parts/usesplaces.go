package parts

import (
	"slices"
	"strings"

	"halfshaft/services/build"
)

// catalogPlace is a position for which applications say what belongs there.
type catalogPlace struct {
	position string
	id       uint32
	root     string   // the position of the assembly it is on; itself for one that the releases name
	within   []string // the places between the two
	rows     []*Application
	isAlike  bool // whether vehicles of one setup are alike to the rows: none asks for a serial, a day or a lot
	asks     bool // whether a row has an expression
	together bool // whether a row asks for other parts

	mentioned map[string]bool // by position, as far as it was asked: whether an expression names it
}

// useSite is a unit's time at a position that the releases name: of the
// assembly that a small part stands on, or of what nobody recorded more of than
// that the release calls for it.
type useSite struct {
	place       *catalogPlace // nil for a position without applications
	position    uint32
	isSmall     bool
	isUsed      bool // the assembly stood elsewhere before
	stay        int  // the first of the unit
	from, until int32
	made        int32 // the day on which it was put together as it is; always when nobody knows
	release     string
	calls       []useCall
	recorded    int32 // the day from which a record says what stands at a small place; never for none
}

// useCall is what the catalogue calls for at a site, from a day on.
type useCall struct {
	part   string // empty where nothing is supplied
	day    int32
	until  int32        // the day from which another part belongs there; never while this one does
	row    *Application // nil for what the release calls for
	isSure bool         // no other part may have belonged there on those days
}

// theCatalogue looks up what the catalogue says of the parts of a question: the
// parts that supersessions connect with them, and the places for any of these.
func (run *usesRun) theCatalogue() {
	positions := map[string]bool{}
	for _, r := range run.roles {
		if !r.isAskedFor() {
			continue
		}
		for _, number := range run.catalogue.family(r.number) {
			run.seeds[build.Fold(number)] = number
			for _, a := range run.catalogue.byPart[number] {
				positions[a.Position] = true
			}
		}
	}
	for position := range positions {
		run.places = append(run.places, run.place(position))
	}
	slices.SortFunc(run.places, func(a, b *catalogPlace) int { return strings.Compare(a.position, b.position) })
}

// place looks up a position that has applications; nil for one that has none.
func (run *usesRun) place(position string) *catalogPlace {
	if p, ok := run.placeOf[position]; ok {
		return p
	}
	rows := run.catalogue.applications.of(position)
	if len(rows) == 0 {
		run.placeOf[position] = nil
		return nil
	}
	p := &catalogPlace{position: position, id: run.nameID(position), root: position, rows: rows, mentioned: map[string]bool{}}
	for range deepest {
		at := run.catalogue.positions.Get(p.root)
		if at == nil || at.Within == "" {
			break
		}
		if p.root != position {
			p.within = append(p.within, p.root)
		}
		p.root = at.Within
	}
	p.isAlike = true
	for _, a := range rows {
		c := &a.Conditions
		p.asks, p.together = p.asks || c.AppliesWhen != "", p.together || len(c.Together) > 0
		if c.FirstSerial != "" || c.LastSerial != "" || len(c.Except) > 0 || !c.BuiltFrom.IsZero() || !c.BuiltUntil.IsZero() || len(c.Lots) > 0 {
			p.isAlike = false
		}
	}
	run.placeOf[position] = p
	return p
}

// nameID gives the number of a position, also of one at which no vehicle has
// anything on record.
func (run *usesRun) nameID(position string) uint32 {
	if id, ok := run.index.names.ids[position]; ok {
		return id
	}
	i := slices.Index(run.unnamed, position)
	if i < 0 {
		i = len(run.unnamed)
		run.unnamed = append(run.unnamed, position)
	}
	return uint32(len(run.index.names.written) + i)
}

func (run *usesRun) nameText(id uint32) string {
	if i := int(id) - len(run.index.names.written); i >= 0 {
		return run.unnamed[i]
	}
	return run.index.names.text(id)
}

// findSites finds where the vehicle may have something by the catalogue: at the
// places for it, and where the release calls for one of its patterns.
func (w *vehicleUses) findSites(stays []unitStay) {
	for _, place := range w.usesRun.places {
		w.eachUnit(w.nameID(place.root), func(first, last int) {
			switch {
			case place.root != place.position:
				w.addSite(place, first, last)
			case w.isUnrecorded(first):
				w.addSite(place, first, first)
			}
		})
	}
	for _, u := range stays {
		s := u.stay()
		if w.seeds[w.index.names.folded(s.part)] == "" || s.further || w.siteAt(u.at) != nil {
			continue
		}
		if w.isUnrecorded(u.at) {
			w.addSite(w.place(w.index.names.text(s.position)), u.at, u.at)
		}
	}
}

// eachUnit goes through the units that stood at a position, each with its first
// stay and its last.
func (w *vehicleUses) eachUnit(position uint32, take func(first, last int)) {
	stays := w.life.stays
	for i := 0; i < len(stays); i++ {
		if stays[i].position != position {
			continue
		}
		first := i
		for i+1 < len(stays) && stays[i+1].further {
			i++
		}
		take(first, i)
	}
}

// isUnrecorded says whether nobody recorded a unit: it is what the release
// calls for, or an option, and has no mark.
func (w *vehicleUses) isUnrecorded(stay int) bool {
	return w.index.calledFor(unitStay{w.life, stay}).life != nil
}

// calledFor finds the stay that began with what a release calls for: the unit's
// own, or the one that it was moved from without a look at what it is. Its life
// is nil for a unit that somebody recorded.
func (x *UseIndex) calledFor(u unitStay) unitStay {
	for range mostStays {
		s := u.stay()
		if s.isMarked || s.further {
			return unitStay{}
		}
		if origin := build.Origin(s.origin); origin == build.FromRelease || origin == build.FromOption {
			return u
		}
		before, ok := x.half(u.life.counterpart(s.began), func(s *useStay) uint16 { return s.ended })
		if !ok || x.names.fold[before.stay().part] != x.names.fold[s.part] {
			return unitStay{}
		}
		u = before
	}
	return unitStay{}
}

// isUsed says whether a unit stood elsewhere before.
func (w *vehicleUses) isUsed(stay int) bool {
	s := &w.life.stays[stay]
	if s.used || w.life.isAlone(s) {
		return s.used
	}
	before, _ := w.index.neighbours(unitStay{w.life, stay})
	return before != nil
}

// siteAt finds the site that is a stay's own; nil for none.
func (w *vehicleUses) siteAt(stay int) *useSite {
	for i := range w.sites {
		if s := &w.sites[i]; s.stay == stay && !s.isSmall {
			return s
		}
	}
	return nil
}

func (w *vehicleUses) addSite(place *catalogPlace, first, last int) {
	s := &w.life.stays[first]
	site := useSite{
		place: place, position: s.position, stay: first, from: s.from, until: w.life.stays[last].until, made: s.from, recorded: never,
	}
	if site.from > w.on {
		return
	}
	if place != nil && place.root != place.position {
		site.isSmall, site.position, site.made = true, place.id, always
		if site.isUsed = w.isUsed(first); s.began == 0 && !site.isUsed { // it was put together for this vehicle
			site.made = min(s.from, w.life.built)
		}
		for i := range w.life.stays {
			if own := &w.life.stays[i]; own.position == place.id && own.from >= site.from {
				site.recorded = min(site.recorded, own.from)
			}
		}
	}
	came := unitStay{w.life, first}
	if !site.isSmall {
		came = w.index.calledFor(came)
		site.made, site.isUsed = came.stay().from, came.life != w.life || came.at != first
	}
	site.release = came.life.epochs[came.life.epochOn(came.stay().from)].setup.follows(w.index.names.text(came.stay().position))
	switch {
	case place != nil:
		w.callByRows(&site)
	default:
		site.calls = []useCall{{part: w.seeds[w.index.names.folded(s.part)], day: site.from, until: never, isSure: true}}
	}
	if len(site.calls) > 0 {
		w.sites = append(w.sites, site)
	}
}

// callByRows gathers what the applications call for while the unit stands
// there. Where none holds, the release decides.
func (w *vehicleUses) callByRows(site *useSite) {
	epochs := w.life.epochs
	for i := w.life.epochOn(site.from); i < len(epochs) && epochs[i].from < site.until && epochs[i].from <= w.on; i++ {
		day := max(epochs[i].from, site.from)
		held := w.held(site, epochs[i].setup, day)
		for k := range site.calls {
			c := &site.calls[k]
			if c.until == never && !slices.ContainsFunc(held, func(v verdict[*Application]) bool { return v.row == c.row }) {
				c.until = day
			}
		}
		for _, v := range held {
			at := slices.IndexFunc(site.calls, func(c useCall) bool { return c.row == v.row })
			if at < 0 {
				at = len(site.calls)
				site.calls = append(site.calls, useCall{part: v.row.Part, day: day, row: v.row, isSure: true})
			}
			c := &site.calls[at]
			c.until, c.isSure = never, c.isSure && len(held) == 1 && v.is == yes
		}
	}
	if s := &w.life.stays[site.stay]; len(site.calls) == 0 && !site.isSmall {
		if number := w.seeds[w.index.names.folded(s.part)]; number != "" {
			site.calls = []useCall{{part: number, day: site.from, until: never, isSure: true}}
		}
	}
}
