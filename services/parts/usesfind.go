package parts

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Uses answers a search with what service entries say of its parts: up to n
// uses, beginning after the given place, which is the Next of a page before.
// The index is sealed, and so is the catalogue. The error is of kind NotFound
// when neither the catalogue nor any record knows the part.
func (x *UseIndex) Uses(c *Catalogue, s *UseSearch, used []UsedPart, after string, n int) (UsePage, error) {
	run := x.run(c, s)
	if s.unknown != "" && len(x.byPart[build.Fold(s.unknown)]) == 0 && len(used) == 0 {
		return UsePage{}, fault.New(fault.NotFound, "PART_NOT_FOUND", "Neither the catalogue nor any record knows a part %s.", s.unknown)
	}
	var page UsePage
	pager := pager{page: &page, after: after, size: n}
	pager.serial, _, _ = strings.Cut(after, separator)
	groups := run.byVehicle(used)
	for _, c := range run.candidates(groups) {
		w := vehicleUses{usesRun: run, life: c.life, used: groups[c.life.serial]}
		w.collect(c.stays)
		if len(w.pieces) == 0 {
			continue
		}
		w.pieces = slices.DeleteFunc(w.pieces, func(p usePiece) bool { return !w.isInWindow(&p) })
		page.count(w.pieces, s.on)
		if string(c.life.serial) >= pager.serial {
			pager.take(&w)
		}
	}
	return page, nil
}

// run looks up once what all vehicles need.
func (x *UseIndex) run(c *Catalogue, s *UseSearch) *usesRun {
	run := &usesRun{UseSearch: s, index: x, catalogue: c, known: s.known(x),
		roleOf: make([]*role, len(x.names.written)), isPlace: make([]bool, len(x.names.written))}
	for number, r := range s.roles {
		if id, ok := x.names.ids[number]; ok {
			run.roleOf[id] = r
		}
	}
	for _, p := range s.positions {
		if id, ok := x.names.ids[p]; ok {
			run.isPlace[id] = true
		}
	}
	run.seeds, run.placeOf = map[string]string{}, map[string]*catalogPlace{}
	run.patternsOf, run.makeups = map[patternKey][]usePattern{}, map[string]*useMakeup{}
	run.looks, run.lookOf = make([]look, len(x.spots)), map[string]uint32{}
	run.heldBy = map[heldKey][]verdict[*Application]{}
	run.theCatalogue()
	return run
}

// byVehicle sorts what was used by vehicle, day and entry.
func (run *usesRun) byVehicle(used []UsedPart) map[vehicle.Serial][]usedPart {
	groups := map[vehicle.Serial][]usedPart{}
	roles := map[string]*role{} // by number as it is written: folding each of many would cost most of all
	for i := range used {
		u := &used[i]
		r, ok := roles[u.Part]
		if !ok {
			r = run.roles[build.Fold(u.Part)]
			roles[u.Part] = r
		}
		if r != nil {
			groups[u.Vehicle] = append(groups[u.Vehicle], usedPart{UsedPart: u, role: r, day: dayNumber(u.Date)})
		}
	}
	for _, list := range groups {
		slices.SortStableFunc(list, func(a, b usedPart) int {
			return cmp.Or(cmp.Compare(a.day, b.day), strings.Compare(a.Entry, b.Entry))
		})
	}
	return groups
}

// candidate is a vehicle that may have pieces, and its stays that may be some.
type candidate struct {
	life  *useLife
	stays []unitStay
}

// candidates gives, in order, the vehicles that may have pieces. One that has
// work done and no build record counts too.
func (run *usesRun) candidates(groups map[vehicle.Serial][]usedPart) []candidate {
	var stays []unitStay
	for number := range run.seeds {
		stays = append(stays, run.index.byPart[number]...)
	}
	for number, r := range run.roles {
		if r.isAskedFor() && run.seeds[number] == "" {
			stays = append(stays, run.index.byPart[number]...)
		}
	}
	slices.SortFunc(stays, func(a, b unitStay) int { return cmp.Or(cmp.Compare(a.life.rank, b.life.rank), cmp.Compare(a.at, b.at)) })
	var all []candidate
	withStays := map[vehicle.Serial]bool{}
	if len(run.places) > 0 {
		all = make([]candidate, 0, len(run.index.order))
		for _, l := range run.index.order {
			to := 0
			for to < len(stays) && stays[to].life == l {
				to++
			}
			all, stays = append(all, candidate{l, stays[:to]}), stays[to:]
		}
	}
	for from := 0; from < len(stays); {
		to := from + 1
		for to < len(stays) && stays[to].life == stays[from].life {
			to++
		}
		all = append(all, candidate{stays[from].life, stays[from:to]})
		from = to
	}
	if len(groups) > 0 {
		for i := range all {
			withStays[all[i].life.serial] = true
		}
	}
	before := len(all)
	for serial := range groups {
		if l := run.index.lives[serial]; l == nil {
			all = append(all, candidate{life: &useLife{serial: serial}})
		} else if !withStays[serial] {
			all = append(all, candidate{life: l})
		}
	}
	if len(all) > before {
		slices.SortFunc(all, func(a, b candidate) int { return cmp.Compare(a.life.serial, b.life.serial) })
	}
	return all
}

// count counts a vehicle by its pieces.
func (p *UsePage) count(pieces []usePiece, on int32) {
	var has, had, may, mayStill bool
	for i := range pieces {
		switch c := &pieces[i]; c.certainty {
		case Has:
			has = true
		case Had:
			had = true
		case MayHave:
			may, mayStill = true, mayStill || c.until > on
		}
	}
	switch {
	case has:
		p.Has++
	case mayStill:
		p.MayHave++
	case had:
		p.Had++
	case may:
		p.MayHave++
	}
}

// pager fills a page.
type pager struct {
	page   *UsePage
	after  string
	serial string // of after
	size   int
	last   string
	isFull bool
}

// take adds the pieces of the next vehicle, as far as they fit.
func (p *pager) take(w *vehicleUses) {
	if p.isFull {
		return
	}
	keys := make([]string, len(w.pieces))
	for i := range w.pieces {
		keys[i] = w.key(&w.pieces[i])
	}
	order := make([]int, len(keys))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return strings.Compare(keys[a], keys[b]) })
	for _, i := range order {
		if p.after != "" && keys[i] <= p.after {
			continue
		}
		if len(p.page.Uses) == p.size {
			p.page.Next, p.isFull = p.last, true
			return
		}
		p.page.Uses, p.last = append(p.page.Uses, w.use(&w.pieces[i])), keys[i]
	}
}

// separator keeps the fields of a key apart; it is before every other character.
const separator = "\x00"

// key is where a piece stands in the list, comparable as text: it does not
// move when others come or go.
func (w *vehicleUses) key(p *usePiece) string {
	record, line := "", 0
	switch {
	case p.stay < 0 && p.site != nil:
		record = PartName(p.pattern.number)
	case p.stay >= 0:
		record, line = w.life.changeName(w.life.stays[p.stay].began), w.before(p.stay)
	default:
		record = w.used[p.used].Entry
		for i := p.used - 1; i >= 0 && w.used[i].Entry == record; i-- {
			line++
		}
	}
	return strings.Join([]string{
		string(w.life.serial), w.nameText(p.position), dateOfDay(p.from).String(), record, fmt.Sprintf("%04d", line),
	}, separator)
}

// before counts the stays of the same position and day before one.
func (w *vehicleUses) before(stay int) int {
	n := 0
	for i := stay - 1; i >= 0 && w.life.stays[i].position == w.life.stays[stay].position && w.life.stays[i].from == w.life.stays[stay].from; i-- {
		n++
	}
	return n
}
