package parts_test

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// What follows is the second implementation, and it knows what the first
// cannot: what really stood where. A works is lived through day by day with
// real units, of which people write down a part: they leave out lots and
// serials, renew things without saying where, and use kits. What they do not
// record is drawn from what was current: what a release calls for, as it left
// the works, and small parts then and since. Then nothing may be missed, and
// nothing claimed that was not so.

// unit is a real thing. In a real works two units of one serial do not exist. A
// gearbox has a seal, which goes with it.
type unit struct{ part, lot, serial, seal, sealLot string }

// reality is what really stands where, and what did.
type reality struct {
	*useWorld
	t        *rapid.T
	day      vehicle.Date
	stands   map[vehicle.Serial]map[string][]unit // by position; "" for what no record places
	differs  map[vehicle.Serial]map[string]bool   // whether the record may say otherwise
	isSealed map[vehicle.Serial]bool              // whether a record says which seal the gearbox has
	chain    map[string]parts.Supersession        // by old part
	shelf    []unit
	serials  int
	snapshot []moment
}

type moment struct {
	day    vehicle.Date
	stands map[vehicle.Serial][]unit
}

var reallyPlaces = map[string]struct {
	parts []string
	count int
}{
	"gearbox": {[]string{"AP-2000", "AP-2001"}, 1}, "swivel-left": {[]string{"AP-3000", "AP-3001"}, 1},
	"swivel-right": {[]string{"AP-3000", "AP-3001"}, 1}, "spark-plugs": {[]string{"AP-4000"}, 4},
}

func newReality(t *rapid.T) *reality {
	r := &reality{useWorld: newUseWorld(), t: t, day: isoDay("2016-06-01"), isSealed: map[vehicle.Serial]bool{},
		stands: map[vehicle.Serial]map[string][]unit{}, differs: map[vehicle.Serial]map[string]bool{}, chain: map[string]parts.Supersession{}}
	for _, s := range []parts.Supersession{{ID: "S1", Old: "AP-2000", New: []parts.Line{{Part: "AP-2001"}}},
		{ID: "S2", Old: "AP-3000", New: []parts.Line{{Part: "AP-3001"}}}, {ID: "S3", Old: "AP-2500", New: []parts.Line{{Part: "AP-2501"}}}} {
		s.Effective = isoDay(anyOf(r, "effective", "2015-01-01", "2016-06-25", "2016-07-15", "2016-12-01"))
		s.TwoWay = s.ID == "S2" || r.either("two-way")
		s.OldStock = anyOf(r, "old stock", parts.OldStockUnsaid, parts.Scrapped, parts.UsedUpFirst)
		r.chain[s.Old] = s
		r.catalogue.PutSupersession(s)
	}
	r.catalogue.Seal()
	return r
}

// goesIn gives a part that may go in on the day where another is called for.
func (r *reality) goesIn(part string) string {
	s, ok := r.chain[part]
	switch {
	case !ok || s.Effective.After(r.day):
		return part
	case s.TwoWay || s.OldStock == parts.UsedUpFirst:
		return anyOf(r, "pattern", part, s.New[0].Part)
	}
	return s.New[0].Part
}

// sealFor gives the seal that goes into the gearbox of a vehicle on the day.
func (r *reality) sealFor(v vehicle.Serial) string {
	if len(r.stands[v]["winch"]) > 0 {
		return "AP-2600"
	}
	return r.goesIn("AP-2500")
}

// reseal gives a gearbox another seal, and perhaps somebody records that: as a
// change, or in an entry.
func (r *reality) reseal(v vehicle.Serial) {
	if r.recorded(v, "gearbox") == nil || len(r.stands[v]["gearbox"]) == 0 {
		return
	}
	g := &r.stands[v]["gearbox"][0]
	how := anyOf(r, "how", "nobody records it", "by a change", "in an entry")
	if how == "nobody records it" && r.isSealed[v] {
		return // whoever recorded one records the next
	}
	g.seal, g.sealLot = r.sealFor(v), r.lot()
	lot := ""
	if r.either("lot written") {
		lot = g.sealLot
	}
	switch how {
	case "by a change":
		r.change(v, r.on(), build.Change{Kind: build.Fit, Component: build.Component{Position: "gearbox-seal", Part: g.seal, Lot: lot}})
	case "in an entry":
		r.use(v, r.on(), fmt.Sprintf("1 %s %s", g.seal, cmp.Or(lot, "-")))
	}
	r.isSealed[v] = how != "nobody records it"
}

func (r *reality) either(label string) bool { return rapid.Bool().Draw(r.t, label) }

func anyOf[T any](r *reality, label string, from ...T) T {
	return rapid.SampledFrom(from).Draw(r.t, label)
}

func (r *reality) lot() string { return anyOf(r, "lot", "L1", "L2", "L3") }

// make makes a new unit for a position; a gearbox has a serial.
func (r *reality) make(position, part string) unit {
	u := unit{part: part, lot: r.lot()}
	if position == "gearbox" {
		r.serials++
		u.serial = fmt.Sprintf("G%d", r.serials)
		u.seal, u.sealLot = "AP-2500", r.lot()
	}
	return u
}

// put puts a unit, or a set of them, at a position, as a record says.
func (r *reality) put(v vehicle.Serial, position string, u unit) {
	r.stands[v][position] = slices.Repeat([]unit{u}, max(reallyPlaces[position].count, 1))
	r.differs[v][position] = false
	if position == "gearbox" {
		r.isSealed[v] = false
	}
}

// written is what people write down of a unit: always its part.
func (r *reality) written(position string, u unit) build.Component {
	c := build.Component{Position: position, Part: u.part}
	if r.either("lot written") {
		c.Lot = u.lot
	}
	if r.either("serial written") {
		c.Serial = u.serial
	}
	return c
}

func (r *reality) on() string { return r.day.String() }

func (r *reality) build(v vehicle.Serial) {
	release := anyOf(r, "release", "R1", "R2")
	r.built(v, release, r.on())
	r.stands[v], r.differs[v] = map[string][]unit{}, map[string]bool{}
	for _, f := range r.releases[release].Fitments {
		u := r.make(f.Position, r.goesIn(f.Part))
		u.seal = r.sealOf(u, v)
		r.put(v, f.Position, u)
		if r.either("in the build record") {
			r.records[v].Components = append(r.records[v].Components, r.written(f.Position, u))
		}
	}
}

// sealOf gives the seal of a new gearbox, put together for a vehicle.
func (r *reality) sealOf(u unit, v vehicle.Serial) string {
	if u.seal == "" {
		return ""
	}
	return r.sealFor(v)
}

// recorded gives what the records say stands at a position.
func (r *reality) recorded(v vehicle.Serial, position string) *build.Fitted {
	conf, err := build.Configure(*r.records[v], r.changes[v], r.releases, r.day)
	if err != nil {
		r.t.Fatal(err)
	}
	return conf.At(position)
}

// refit fits a new unit, or one from the shelf, and perhaps an entry says so
// too.
func (r *reality) refit(v vehicle.Serial, position string) {
	u := r.make(position, anyOf(r, "part", reallyPlaces[position].parts...))
	if len(r.stands[v]["winch"]) > 0 || r.either("put together lately") {
		u.seal = r.sealOf(u, v)
	}
	c := build.Change{Kind: build.Fit, Source: anyOf(r, "source", build.SourceService, build.SourceCampaign, build.SourceOwner)}
	at := slices.IndexFunc(r.shelf, func(s unit) bool { return slices.Contains(reallyPlaces[position].parts, s.part) })
	isUsed := at >= 0 && r.either("from the shelf")
	if isUsed {
		u = r.shelf[at]
		r.shelf = slices.Delete(r.shelf, at, at+1)
	}
	c.Component = r.written(position, u)
	if isUsed {
		c.Component.Prior = vehicle.Entered{Value: vehicle.Decimal{Coefficient: 100}, Unit: vehicle.Miles}
	}
	r.change(v, r.on(), c)
	r.shelve(v, position)
	r.put(v, position, u)
	if r.either("and an entry") {
		lot := "-"
		if r.either("lot in the entry") {
			lot = u.lot
		}
		r.use(v, r.on(), fmt.Sprintf("%d %s %s", reallyPlaces[position].count, u.part, lot))
	}
}

// shelve keeps what stood at a position.
func (r *reality) shelve(v vehicle.Serial, position string) {
	if position == "gearbox" && len(r.stands[v][position]) > 0 {
		r.shelf = append(r.shelf, r.stands[v][position][0])
	}
}

// bothSwivels fits two of two lots on one day.
func (r *reality) bothSwivels(v vehicle.Serial) {
	for _, position := range []string{"swivel-left", "swivel-right"} {
		u := r.make(position, "AP-3001")
		r.change(v, r.on(), build.Change{Kind: build.Fit, Component: build.Component{Position: position, Part: u.part}})
		r.put(v, position, u)
		r.use(v, r.on(), "1 AP-3001 "+u.lot)
	}
}

// renew uses parts without saying where: some or all of those in their places.
func (r *reality) renew(v vehicle.Serial) {
	positions := anyOf(r, "positions", []string{"gearbox"}, []string{"swivel-left", "swivel-right"}, []string{"spark-plugs"})
	if f := r.recorded(v, "gearbox"); positions[0] == "gearbox" && f != nil && f.Component.Serial != "" {
		return // a unit with a serial is changed by a change
	}
	if positions[0] == "gearbox" && (r.isSealed[v] || r.recorded(v, "gearbox") == nil) {
		return // nor is an assembly that is off fitted without a change, or one changed by those who record its seal
	}
	place := reallyPlaces[positions[0]]
	quantity := rapid.IntRange(1, len(positions)*place.count).Draw(r.t, "quantity")
	u := r.make(positions[0], anyOf(r, "part", place.parts...))
	u.seal = r.sealOf(u, v)
	left, first := quantity, rapid.IntRange(0, len(positions)-1).Draw(r.t, "first")
	for i := range positions {
		position := positions[(first+i)%len(positions)]
		stands := slices.Clone(r.stands[v][position])
		for len(stands) < place.count {
			stands = append(stands, unit{})
		}
		for k := 0; k < place.count && left > 0; k, left = k+1, left-1 {
			stands[k] = u
			r.differs[v][position] = true
		}
		r.stands[v][position] = slices.DeleteFunc(stands, func(u unit) bool { return u == unit{} })
	}
	lot := "-"
	if r.either("lot in the entry") {
		lot = u.lot
	}
	r.use(v, r.on(), fmt.Sprintf("%d %s %s", quantity, u.part, lot))
}

// useKit uses a kit of a swivel and a seal; the swivel may be left over.
func (r *reality) useKit(v vehicle.Serial) {
	if r.either("the swivel too") {
		position := anyOf(r, "side", "swivel-left", "swivel-right")
		r.put(v, position, r.make(position, "AP-3000"))
		r.differs[v][position] = true
	}
	r.stands[v][""] = []unit{{part: "AP-3950", lot: r.lot()}}
	r.use(v, r.on(), "1 AP-3900")
}

func (r *reality) renewSeal(v vehicle.Serial) {
	if r.either("the seal too") {
		r.stands[v][""] = []unit{{part: "AP-3950", lot: r.lot()}}
	}
	r.use(v, r.on(), "1 AP-2900")
}

func (r *reality) takeOff(v vehicle.Serial, position string) {
	if r.recorded(v, position) == nil {
		return
	}
	r.remove(v, r.on(), position)
	r.shelve(v, position)
	delete(r.stands[v], position)
	r.differs[v][position] = false
}

// findOut overhauls a unit and writes down what it is.
func (r *reality) findOut(v vehicle.Serial, position string) {
	if stands := r.stands[v][position]; len(stands) > 0 && !r.differs[v][position] && r.recorded(v, position) != nil {
		r.change(v, r.on(), build.Change{Kind: build.Overhaul, Component: r.written(position, stands[0])})
	}
}

func (r *reality) moveOn(v vehicle.Serial, position string) {
	to := anyOf(r, "to", slices.Sorted(maps.Keys(r.stands))...)
	if to == v || r.differs[v][position] || r.recorded(v, position) == nil {
		return
	}
	u := r.stands[v][position][0]
	r.move(v, to, r.on(), position)
	r.shelve(to, position)
	delete(r.stands[v], position)
	r.put(to, position, u)
}

// upgrade brings the gearbox to the later release: another is fitted unless the
// records say that it is there.
func (r *reality) upgrade(v vehicle.Serial) {
	c := r.change(v, r.on(), build.Change{Kind: build.Upgrade, Release: "R2", Positions: []string{"gearbox"}})
	if r.recorded(v, "gearbox").Change == c.Name() {
		r.shelve(v, "gearbox")
		u := r.make("gearbox", "AP-2001")
		u.seal = r.sealFor(v)
		r.put(v, "gearbox", u)
	}
}

func (r *reality) winch(v vehicle.Serial) {
	if len(r.stands[v]["winch"]) > 0 {
		r.change(v, r.on(), build.Change{Kind: build.OptionRemoved, Option: "winch"})
		delete(r.stands[v], "winch")
	} else if r.records[v].Release == "R1" {
		r.change(v, r.on(), build.Change{Kind: build.OptionAdded, Option: "winch"})
		r.put(v, "winch", r.make("winch", "AP-5000"))
	}
}

// live lets one thing of some happen to a vehicle, built first.
func (r *reality) live(what ...string) {
	v := anyOf(r, "vehicle", carA, carB, carC)
	position := anyOf(r, "position", "gearbox", "swivel-left", "swivel-right", "spark-plugs")
	switch {
	case r.records[v] == nil:
		r.build(v)
	default:
		switch anyOf(r, "what", what...) {
		case "refit":
			r.refit(v, position)
		case "both":
			r.bothSwivels(v)
		case "renew":
			r.renew(v)
		case "reseal":
			r.reseal(v)
		case "kit":
			r.useKit(v)
		case "seal":
			r.renewSeal(v)
		case "off":
			r.takeOff(v, position)
		case "find out":
			r.findOut(v, position)
		case "move":
			r.moveOn(v, position)
		case "upgrade":
			r.upgrade(v)
		case "winch":
			r.winch(v)
		}
	}
	m := moment{r.day, map[vehicle.Serial][]unit{}}
	for v, positions := range r.stands {
		for _, units := range positions {
			m.stands[v] = append(m.stands[v], units...)
			for _, u := range units {
				if u.seal != "" {
					m.stands[v] = append(m.stands[v], unit{part: u.seal, lot: u.sealLot})
				}
			}
		}
	}
	r.snapshot = append(r.snapshot, m)
}

// truth says whether a vehicle really has something at the end of a day, and
// whether it ever had.
func (r *reality) truth(v vehicle.Serial, is func(unit) bool, on vehicle.Date) (has, ever bool) {
	for _, m := range r.snapshot {
		if !m.day.After(on) {
			has = slices.ContainsFunc(m.stands[v], is)
			ever = ever || has
		}
	}
	return has, ever
}

func TestNoVehicleIsMissedAndNoneIsNamedFalsely(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := newReality(t)
		for range rapid.IntRange(4, 40).Draw(t, "days") {
			r.live("refit", "refit", "both", "renew", "renew", "reseal", "reseal", "reseal", "kit", "seal", "off", "find out", "find out", "move", "move", "upgrade", "winch")
			r.day = r.day.AddDays(10)
		}
		x := r.index(t)
		q := parts.UseQuestion{
			Part: anyOf(r, "asked part", "AP-2000", "AP-2001", "AP-3000", "AP-3001", "AP-4000", "AP-3950", "AP-5000",
				"AP-2500", "AP-2501", "AP-2600"),
			On: isoDay("2016-06-01").AddDays(rapid.IntRange(0, 42).Draw(t, "asked day") * 10),
		}
		if r.either("asked lot") {
			q.Lot = r.lot()
		}
		if r.serials > 0 && r.either("asked serial") {
			q.Serial = fmt.Sprintf("G%d", rapid.IntRange(1, r.serials).Draw(t, "serial"))
		}
		q.WithSupersessions = r.either("with supersessions")
		page, err := r.answer(x, q, "", 10_000)
		if err != nil {
			t.Fatal(err)
		}
		wanted := []string{q.Part}
		for _, family := range [][]string{{"AP-2000", "AP-2001"}, {"AP-3000", "AP-3001"}, {"AP-2500", "AP-2501"}} {
			if q.WithSupersessions && slices.Contains(family, q.Part) {
				wanted = family
			}
		}
		is := func(u unit) bool {
			return slices.Contains(wanted, u.part) && (q.Lot == "" || u.lot == q.Lot) && (q.Serial == "" || u.serial == q.Serial)
		}
		r.compare(page, q, is)
	})
}

// compare holds the uses of each vehicle against what was really so.
func (r *reality) compare(page parts.UsePage, q parts.UseQuestion, is func(unit) bool) {
	for v := range r.stands {
		var has, had, may, mayNow bool
		var lines []string
		for _, u := range page.Uses {
			if u.Vehicle != v {
				continue
			}
			lines = append(lines, told([]parts.Use{u})...)
			has, had, may = has || u.Certainty == parts.Has, had || u.Certainty == parts.Had, may || u.Certainty == parts.MayHave
			mayNow = mayNow || u.Certainty == parts.MayHave && (u.Until.IsZero() || u.Until.After(q.On))
		}
		hasIt, everHad := r.truth(v, is, q.On)
		wrong := ""
		switch {
		case hasIt && !has && !mayNow:
			wrong = "it has it and is missed"
		case !hasIt && has:
			wrong = "it does not have it and is named"
		case everHad && !has && !had && !may:
			wrong = "it had it and is missed"
		case !everHad && had:
			wrong = "it never had it and is named"
		}
		if wrong != "" {
			r.t.Fatalf("%s: %s\n%+v\n%q\nchanges %+v\nused %+v\nreally %+v", v, wrong, q, lines, r.changes[v], r.used, r.snapshot)
		}
	}
}
