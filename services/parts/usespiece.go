package parts

import (
	"halfshaft/services/build"
)

// usePiece is a use before it is put into words: a stay, or what a service entry
// says went in.
type usePiece struct {
	role        *role
	stay, used  int // where it comes from: one of these two, the other is -1; or the site
	site        *useSite
	call        *useCall    // of the site
	pattern     *usePattern // of what is called for
	position    uint32
	from, until int32

	lot, serial marked
	doubt       int32 // the day from which something else may stand in its place; never for none
	doubtUse    int   // the service entry that says so, -1 for a change of another place
	doubtRoot   bool  // it is the assembly that went
	end         ending
	endUse      int // of endedByUse
	certainty   Certainty
}

// marked says how a lot or a serial that is asked for was found on a unit.
type marked struct {
	state markState
	text  string   // as it is written there
	at    unitStay // of onOtherStay
	use   int      // of inEntry
}

type markState uint8

const (
	markUnasked markState = iota
	onRecord              // of the stay itself
	onOtherStay           // of another stay of the same unit
	inEntry               // of the service entry of the day it was fitted
	oneOfSome             // that entry names several, this one among them
	nobodyKnows           // nobody wrote it down
	otherMark             // another is on record
)

func (m marked) isMet() bool {
	return m.state == markUnasked || m.state == onRecord || m.state == onOtherStay || m.state == inEntry
}

// ending says what ended a piece.
type ending uint8

const (
	stillOpen ending = iota
	endedByChange
	endedByUse    // as many as there are places were used
	endedByPlaces // all its places were filled anew
	endedByRecord // a record says what stands there since
)

// usedPart is a service entry's line with what it has to do with the question.
type usedPart struct {
	*UsedPart
	role *role
	day  int32
	told bool // a change of that day tells of the same work
}

// vehicleUses works out the pieces of one vehicle.
type vehicleUses struct {
	*usesRun
	life   *useLife
	used   []usedPart // by day
	places []usePlace
	placed bool // whether places were gathered
	sites  []useSite
	pieces []usePiece
}

// usesRun is what all vehicles of a question share.
type usesRun struct {
	*UseSearch
	index     *UseIndex
	catalogue *Catalogue
	roleOf    []*role // by part in names, folded
	isPlace   []bool  // by position in names
	known     []unitStay

	// Of the catalogue, looked up when it is asked for.
	seeds      map[string]string // by folded number: what the parts of the question may stand in place of
	places     []*catalogPlace   // where applications put any of these
	placeOf    map[string]*catalogPlace
	unnamed    []string // positions that the index does not know
	patternsOf map[patternKey][]usePattern
	makeups    map[string]*useMakeup
	looks      []look // by spot
	lookOf     map[string]uint32
	key        []byte // of makeups, to be used again
	heldBy     map[heldKey][]verdict[*Application]
}

// collect gathers the pieces of the vehicle, of whose stays the given ones may
// be some.
func (w *vehicleUses) collect(stays []unitStay) {
	w.matchEntries()
	w.findSites(stays)
	for _, u := range stays {
		if r := w.roleAt(u.at); r != nil && r.kind == sought {
			w.addStay(u.at, r)
		}
	}
	w.addSought()
	for _, u := range stays {
		r, s := w.roleAt(u.at), u.stay()
		if r != nil && (r.kind == kit || r.kind == renewer) && !w.hasPlaceOn(u.at) {
			w.addCompany(usePiece{role: r, stay: u.at, used: -1, position: s.position, from: s.from, until: s.until})
		}
	}
	w.addHolders()
	for i := range w.used {
		switch u := &w.used[i]; {
		case u.role.kind == sought && !u.told:
			w.addUsed(i)
		case u.role.kind == kit || u.role.kind == renewer:
			w.addCompany(usePiece{role: u.role, stay: -1, used: i, from: u.day, until: never})
		}
	}
}

func (w *vehicleUses) roleAt(stay int) *role {
	return w.roleOf[w.index.names.fold[w.life.stays[stay].part]]
}

// matchEntries finds the entries that tell of the same work as a change of
// their day: it fitted that part, as many times at least.
func (w *vehicleUses) matchEntries() {
	for i := range w.used {
		u := &w.used[i]
		if u.role.kind != sought && u.role.kind != rival && u.role.kind != neighbour {
			continue
		}
		quantity, fitted := 0, 0
		for k := range w.used {
			if o := &w.used[k]; o.day == u.day && o.role == u.role {
				quantity += o.Quantity
			}
		}
		for k := range w.life.stays {
			if s := &w.life.stays[k]; w.roleAt(k) == u.role && w.fittedOn(s, u.day) {
				fitted += int(s.count)
			}
		}
		u.told = quantity <= fitted
	}
}

// fittedOn says whether a change fitted the unit on the day.
func (w *vehicleUses) fittedOn(s *useStay, day int32) bool {
	return s.from == day && s.began != 0 && !s.further
}

// addStay takes in a unit of a part that is asked for, unless something
// excludes it.
func (w *vehicleUses) addStay(i int, r *role) {
	s := &w.life.stays[i]
	p := usePiece{role: r, stay: i, used: -1, position: s.position, from: s.from, until: s.until, doubt: never, doubtUse: -1}
	if s.until != never {
		p.end = endedByChange
	}
	own := unitStay{w.life, i}
	p.serial = w.markOf(w.serial, own, serialMark)
	p.lot = w.markOf(w.lot, own, lotMark)
	if p.lot.state == nobodyKnows {
		p.lot = w.lotOfEntry(s, r)
	}
	if p.lot.state == otherMark || p.serial.state == otherMark {
		return
	}
	if site := w.siteAt(i); site != nil {
		p.site = site
		if !w.mayBe(&p) {
			return
		}
	}
	w.goWithAssembly(&p)
	w.endByUse(&p)
	w.add(p)
}

// goWithAssembly puts a unit at a small place in doubt from the day on which the
// assembly went that it stood on.
func (w *vehicleUses) goWithAssembly(p *usePiece) {
	position := w.nameText(p.position)
	root := w.catalogue.assembly(position)
	if root == position {
		return
	}
	w.eachUnit(w.nameID(root), func(first, last int) {
		if until := w.life.stays[last].until; w.life.stays[first].from <= p.from && p.from < until && until < p.until {
			p.doubt, p.doubtRoot = until, true
		}
	})
}

// markOf finds out whether a unit has a mark that is asked for, folded.
func (w *vehicleUses) markOf(asked string, own unitStay, mark func(*useStay) uint32) marked {
	if asked == "" {
		return marked{}
	}
	m := marked{state: onRecord}
	id := mark(own.stay())
	if id == 0 {
		m.state = onOtherStay
		if id, m.at = w.index.markElsewhere(own, mark); id == 0 {
			return marked{state: nobodyKnows}
		}
	}
	if w.index.marks.folded(id) != asked {
		return marked{state: otherMark}
	}
	m.text = w.index.marks.text(id)
	return m
}

// lotOfEntry asks the service entries of the day on which a unit was fitted.
func (w *vehicleUses) lotOfEntry(s *useStay, r *role) marked {
	m := marked{state: nobodyKnows}
	if s.began == 0 {
		return m
	}
	entries, of := 0, 0
	for i := range w.used {
		u := &w.used[i]
		if u.role != r || !w.fittedOn(s, u.day) {
			continue
		}
		entries++
		switch build.Fold(u.Lot) {
		case "":
			return m
		case w.lot:
			of++
			m.text, m.use = u.Lot, i
		}
	}
	switch {
	case entries == 0:
	case of == entries:
		m.state = inEntry
	case of == 0:
		m.state = otherMark
	default:
		m.state = oneOfSome
	}
	return m
}

// addUsed takes in what a service entry says went in.
func (w *vehicleUses) addUsed(i int) {
	u := &w.used[i]
	p := usePiece{role: u.role, stay: -1, used: i, from: u.day, until: never, doubt: never, doubtUse: -1}
	if w.lot != "" {
		switch build.Fold(u.Lot) {
		case w.lot:
			p.lot = marked{state: onRecord, text: u.Lot}
		case "":
			p.lot.state = nobodyKnows
		default:
			return
		}
	}
	if w.serial != "" {
		p.serial.state = nobodyKnows
	}
	if places := w.allPlaces(); len(places) == 1 {
		p.position = places[0].position
	}
	w.endByPlaces(&p, u.day+1)
	w.endByUse(&p)
	w.add(p)
}

// addCompany takes in what may have come with a kit, or been renewed with
// another part; not where that day's records name the thing itself.
func (w *vehicleUses) addCompany(p usePiece) {
	p.doubt, p.doubtUse = never, -1
	if p.stay >= 0 && p.until != never {
		p.end = endedByChange
	}
	for i := range w.used {
		if w.used[i].day == p.from && w.used[i].role.kind == sought {
			return
		}
	}
	if w.lot != "" {
		p.lot.state = nobodyKnows
	}
	if w.serial != "" {
		p.serial.state = nobodyKnows
	}
	w.endByPlaces(&p, p.from)
	w.endByUse(&p)
	if p.until > p.from {
		w.add(p)
	}
}

// add keeps a piece that the days do not exclude and says how sure it is.
func (w *vehicleUses) add(p usePiece) {
	if p.from > w.on || p.serial.state == nobodyKnows && w.wasElsewhere(&p) {
		return
	}
	isOver := p.until <= w.on
	switch {
	case p.role.kind != sought || p.pattern != nil || !p.lot.isMet() || !p.serial.isMet():
		p.certainty = MayHave
	case isOver:
		p.certainty = Had
	case p.doubt <= w.on:
		p.certainty = MayHave
	default:
		p.certainty = Has
	}
	w.pieces = append(w.pieces, p)
}

// wasElsewhere says whether the component that is asked for was on record
// somewhere else during the days of a piece, or came new after they began.
func (w *vehicleUses) wasElsewhere(p *usePiece) bool {
	for i, u := range w.known {
		s := u.stay()
		if max(p.from, s.from) < min(p.until, s.until) || i == 0 && !s.used && p.from < s.from {
			return true
		}
	}
	return false
}

// isInWindow says whether a piece overlaps the days that are asked for.
func (w *vehicleUses) isInWindow(p *usePiece) bool {
	return (w.From.IsZero() || p.until >= dayNumber(w.From)) && (w.Until.IsZero() || p.from <= dayNumber(w.Until))
}
