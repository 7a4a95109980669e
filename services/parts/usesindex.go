package parts

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// UseIndex holds what stood where on every vehicle, and finds vehicles by part,
// lot and component serial. It is not safe for use while it is changed.
//
// A fleet of ten thousand has half a million stays; each takes 36 bytes here,
// with every text kept once.
type UseIndex struct {
	lives map[vehicle.Serial]*useLife
	order []*useLife // by serial
	names texts      // of positions and parts
	marks texts      // of serials and lots

	byPart   map[string][]unitStay // by folded number, each list by serial and stay
	byLot    map[string][]*useLife // by folded lot, each list by serial
	bySerial map[string][]*useLife

	setups      map[string]*useSetup
	spots       []*useSpot
	spotNumbers map[string]int // in spots

	counts map[*build.Release]map[string]int // where a release has more than one at a position
	ranked bool
}

// NewUseIndex makes an empty index.
func NewUseIndex() *UseIndex {
	return &UseIndex{
		lives: map[vehicle.Serial]*useLife{}, names: newTexts(), marks: newTexts(),
		byPart: map[string][]unitStay{}, byLot: map[string][]*useLife{}, bySerial: map[string][]*useLife{},
		setups: map[string]*useSetup{}, spotNumbers: map[string]int{}, counts: map[*build.Release]map[string]int{},
	}
}

// useLife is one vehicle.
type useLife struct {
	serial  vehicle.Serial
	rank    int   // in order
	built   int32 // the day
	epochs  []useEpoch
	stays   []useStay // in order of position, then of time
	changes []useChange
}

// useChange is a change that began or ended a stay.
type useChange struct {
	id          string
	counterpart string // resource name of the other half of a move
}

// useStay is a stay of a unit, or what an overhaul made of it: then it is of
// the unit of the stay before it.
type useStay struct {
	position, part uint32 // in names
	serial, lot    uint32 // in marks; 0 when nobody wrote it down
	from, until    int32  // days; until is never while it is there
	began, ended   uint16 // in changes, from 1; 0 for the build, and for none
	origin         uint8
	count          uint8 // how many stand there at most
	further        bool  // of the unit of the stay before it
	used           bool  // it was not new when it came
	isMarked       bool  // its serial or lot was written down of this part, and not of what an overhaul made of it
}

// never is the end of what has none.
const never = math.MaxInt32

func dayNumber(d vehicle.Date) int32 {
	if d.IsZero() {
		return math.MinInt32
	}
	return int32(d.Ordinal())
}

func dateOfDay(n int32) vehicle.Date {
	if n == never || n == math.MinInt32 {
		return vehicle.Date{}
	}
	return vehicle.DateFromOrdinal(int(n))
}

// Put takes a vehicle in, in place of what was known of it. The error is that
// of build.TimelineOf; the vehicle is then not in the index.
func (x *UseIndex) Put(rec *build.Record, changes []build.Change, releases build.ReleaseSet) error {
	x.Remove(rec.Serial)
	timeline, err := build.TimelineOf(*rec, changes, releases)
	if err != nil {
		return err
	}
	epochs, err := x.epochs(rec, changes, releases)
	if err != nil {
		return err
	}
	l := &useLife{serial: rec.Serial, built: dayNumber(rec.Built), epochs: epochs, stays: make([]useStay, 0, len(timeline.Stays))}
	named := changeNumbers{life: l, changes: changes, known: map[string]uint16{}}
	for i := range timeline.Stays {
		x.stay(l, &timeline.Stays[i], &named, x.countAt(rec, changes, releases, timeline.Stays[i].Component.Position))
	}
	l.stays = slices.Clip(l.stays)
	x.lives[l.serial] = l
	at, _ := slices.BinarySearchFunc(x.order, l.serial, bySerialOf)
	x.order, x.ranked = slices.Insert(x.order, at, l), false
	for i := range l.stays {
		part, of := x.names.folded(l.stays[i].part), unitStay{l, i}
		at, _ := slices.BinarySearchFunc(x.byPart[part], of, bySerialAndStay)
		x.byPart[part] = slices.Insert(x.byPart[part], at, of)
	}
	x.eachMark(l, func(list map[string][]*useLife, mark string) {
		if at, found := slices.BinarySearchFunc(list[mark], l.serial, bySerialOf); !found {
			list[mark] = slices.Insert(list[mark], at, l)
		}
	})
	return nil
}

// Remove takes a vehicle out; one that is not there is no error.
func (x *UseIndex) Remove(serial vehicle.Serial) {
	l := x.lives[serial]
	if l == nil {
		return
	}
	delete(x.lives, serial)
	if at, found := slices.BinarySearchFunc(x.order, serial, bySerialOf); found {
		x.order, x.ranked = slices.Delete(x.order, at, at+1), false
	}
	for i := range l.stays {
		part := x.names.folded(l.stays[i].part)
		if at, found := slices.BinarySearchFunc(x.byPart[part], unitStay{l, i}, bySerialAndStay); found {
			x.byPart[part] = slices.Delete(x.byPart[part], at, at+1)
		}
		if len(x.byPart[part]) == 0 {
			delete(x.byPart, part)
		}
	}
	x.eachMark(l, func(list map[string][]*useLife, mark string) {
		at, found := slices.BinarySearchFunc(list[mark], serial, bySerialOf)
		if !found {
			return
		}
		if list[mark] = slices.Delete(list[mark], at, at+1); len(list[mark]) == 0 {
			delete(list, mark)
		}
	})
}

// Seal makes the index ready for questions after a change.
func (x *UseIndex) Seal() {
	if x.ranked {
		return
	}
	for i, l := range x.order {
		l.rank = i
	}
	x.ranked = true
}

// Len gives the number of vehicles.
func (x *UseIndex) Len() int { return len(x.lives) }

func bySerialOf(l *useLife, serial vehicle.Serial) int {
	return strings.Compare(string(l.serial), string(serial))
}

func bySerialAndStay(a, b unitStay) int {
	return cmp.Or(strings.Compare(string(a.life.serial), string(b.life.serial)), cmp.Compare(a.at, b.at))
}

// eachMark gives the lots and serials that a vehicle is found by, some of them
// more than once.
func (x *UseIndex) eachMark(l *useLife, take func(list map[string][]*useLife, mark string)) {
	for i := range l.stays {
		s := &l.stays[i]
		if lot := x.marks.folded(s.lot); lot != "" {
			take(x.byLot, lot)
		}
		if serial := x.marks.folded(s.serial); serial != "" {
			take(x.bySerial, serial)
		}
	}
}

// stay adds a stay: once for what it was when it came, and once more for each
// overhaul that made something else of it. An overhaul that found out a serial
// or a lot found out what it had been all along.
func (x *UseIndex) stay(l *useLife, s *build.Stay, named *changeNumbers, count uint8) {
	first := len(l.stays)
	begin := useStay{
		position: x.names.id(s.Component.Position), from: dayNumber(s.From), began: named.number(s.Began),
		origin: uint8(s.Origin), count: count, used: !s.Component.Prior.IsZero(),
	}
	x.describe(&begin, &s.Component)
	l.stays = append(l.stays, begin)
	for i := range s.Overhauls {
		o := &s.Overhauls[i]
		last := &l.stays[len(l.stays)-1]
		next := *last
		x.describe(&next, &o.Component)
		if x.same(last, &next) {
			last.serial, last.lot = next.serial, next.lot
			continue
		}
		next.from, next.began, next.further = dayNumber(o.Date), named.number(o.Change), true
		last.until, last.ended = next.from, next.began
		l.stays = append(l.stays, next)
	}
	last := &l.stays[len(l.stays)-1]
	last.until, last.ended = never, named.number(s.Ended)
	if s.Ended != "" {
		last.until = dayNumber(s.Until)
	}
	for i := first; i < len(l.stays); i++ {
		l.stays[i].isMarked = l.stays[i].serial != 0 || l.stays[i].lot != 0
	}
	for i := len(l.stays) - 2; i >= first; i-- {
		earlier, later := &l.stays[i], &l.stays[i+1]
		if earlier.serial == 0 {
			earlier.serial = later.serial
		}
		if earlier.lot == 0 {
			earlier.lot = later.lot
		}
	}
}

func (x *UseIndex) describe(s *useStay, unit *build.Component) {
	s.part, s.serial, s.lot = x.names.id(unit.Part), x.marks.id(unit.Serial), x.marks.id(unit.Lot)
}

// same says whether two descriptions of a unit differ only by what was not
// known before.
func (x *UseIndex) same(was, is *useStay) bool {
	known := func(was, is uint32) bool {
		return x.marks.folded(was) == "" || x.marks.folded(was) == x.marks.folded(is)
	}
	return x.names.folded(was.part) == x.names.folded(is.part) && known(was.serial, is.serial) && known(was.lot, is.lot)
}

// countAt gives how many stand at a position at most, by any release that the
// vehicle follows anywhere.
func (x *UseIndex) countAt(rec *build.Record, changes []build.Change, releases build.ReleaseSet, position string) uint8 {
	count := x.countsOf(releases[rec.Release])[position]
	for i := range changes {
		if changes[i].Kind == build.Upgrade {
			count = max(count, x.countsOf(releases[changes[i].Release])[position])
		}
	}
	return uint8(min(max(count, 1), math.MaxUint8))
}

func (x *UseIndex) countsOf(r *build.Release) map[string]int {
	if r == nil {
		return nil
	}
	counts, ok := x.counts[r]
	if !ok {
		counts = map[string]int{}
		take := func(fitments []build.Fitment) {
			for i := range fitments {
				if f := &fitments[i]; f.Count() > max(counts[f.Position], 1) {
					counts[f.Position] = f.Count()
				}
			}
		}
		take(r.Fitments)
		for i := range r.Options {
			take(r.Options[i].Fitments)
		}
		x.counts[r] = counts
	}
	return counts
}

// changeNumbers numbers the changes of a vehicle that stays name.
type changeNumbers struct {
	life    *useLife
	changes []build.Change
	known   map[string]uint16 // by resource name
}

func (n *changeNumbers) number(name string) uint16 {
	if name == "" {
		return 0
	}
	if number, ok := n.known[name]; ok {
		return number
	}
	for i := range n.changes {
		if c := &n.changes[i]; c.Name() == name {
			n.life.changes = append(n.life.changes, useChange{c.ID, c.Counterpart})
			n.known[name] = uint16(len(n.life.changes))
			return n.known[name]
		}
	}
	return 0
}

// changeName gives the resource name of a numbered change; empty for 0.
func (l *useLife) changeName(number uint16) string {
	if number == 0 {
		return ""
	}
	return build.Name(l.serial) + "/changes/" + l.changes[number-1].id
}

func (l *useLife) counterpart(number uint16) string {
	if number == 0 {
		return ""
	}
	return l.changes[number-1].counterpart
}

// texts keeps each text once, with the form in which it is compared. The text 0
// is the empty one.
type texts struct {
	ids     map[string]uint32
	written []string
	fold    []uint32 // of each text: that of its folded form
}

func newTexts() texts {
	return texts{ids: map[string]uint32{"": 0}, written: []string{""}, fold: []uint32{0}}
}

func (t *texts) id(text string) uint32 {
	if id, ok := t.ids[text]; ok {
		return id
	}
	text = strings.Clone(text)
	id := uint32(len(t.written))
	t.ids[text] = id
	t.written, t.fold = append(t.written, text), append(t.fold, id)
	if folded := build.Fold(text); folded != text {
		t.fold[id] = t.id(folded)
	}
	return id
}

func (t *texts) text(id uint32) string   { return t.written[id] }
func (t *texts) folded(id uint32) string { return t.written[t.fold[id]] }
