package bulletin_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"halfshaft/services/build"
	"halfshaft/services/bulletin"
	"halfshaft/services/internal/predicate"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// world is a fleet of random histories: what was built, what was fitted, taken
// off, moved and overhauled since, as the build records have it.
type world struct {
	on       vehicle.Date
	releases build.ReleaseSet
	records  []build.Record
	changes  map[vehicle.Serial][]build.Change
	uses     map[vehicle.Serial][]schedule.UseFact
}

var (
	worldPositions = []string{"air-cleaner", "front-axle-differential", "gearbox", "steering-relay", "swivel-housing-left"}
	worldParts     = []string{"AP-1101", "AP-2041", "AP-2050", "AP-3001", "AP-3002"}
	worldLots      = []string{"L05", "L06", "L07", "l-08", "L09"}
	worldReleases  = []string{"R1", "R2", "R3"}
	worldMarkets   = []string{"GB", "FR", ""}
)

func day(y int, m time.Month, d int) vehicle.Date { return vehicle.MustDate(y, m, d) }

// newWorld makes a world of n vehicles.
func newWorld(n int, seed uint64) *world {
	r := rand.New(rand.NewPCG(seed, 7))
	w := &world{on: day(2026, 11, 25), changes: map[vehicle.Serial][]build.Change{}, uses: map[vehicle.Serial][]schedule.UseFact{}}
	w.releases = build.ReleaseSet{}
	for i, id := range worldReleases {
		release := &build.Release{ID: id, Effective: day(2010+i, 1, 1), Options: []build.Option{{ID: "lsd-rear"}, {ID: "winch"}}}
		for k, p := range worldPositions[:4] { // nothing stands at the swivel housing unless somebody records it
			release.Fitments = append(release.Fitments, build.Fitment{Position: p, Part: worldParts[k], Traits: []string{"plain"}})
		}
		w.releases[id] = release
	}
	for i := range n {
		w.records = append(w.records, w.record(r, i))
	}
	w.happen(r, 4*n)
	return w
}

// serialOf gives the serial of a body that may be issued, from the i-th on.
func serialOf(i int) vehicle.Serial {
	body := fmt.Sprintf("AM%04d", i)
	check, err := vehicle.CheckCharacter(body)
	if err != nil {
		panic(err)
	}
	return vehicle.Serial(body + string(rune(check)))
}

func pick[T any](r *rand.Rand, from []T) T { return from[r.IntN(len(from))] }

// serials are those that are issued, in order.
func serials(n int) []vehicle.Serial {
	var all []vehicle.Serial
	for i := 0; len(all) < n; i++ {
		if s := serialOf(i); s.Valid() {
			all = append(all, s)
		}
	}
	return all
}

var issuedSerials = serials(20_000)

func (w *world) record(r *rand.Rand, i int) build.Record {
	rec := build.Record{
		Serial: issuedSerials[i], Release: pick(r, worldReleases), Market: pick(r, worldMarkets),
		Wheelbase: pick(r, []string{"short", "long"}), Built: day(2012, 1, 1).AddDays(r.IntN(4000)),
	}
	if r.IntN(10) > 0 {
		rec.Delivered = rec.Built.AddDays(1 + r.IntN(90))
	}
	if r.IntN(20) == 0 {
		rec.Built = vehicle.Date{}
	}
	if r.IntN(4) == 0 {
		rec.Options = []string{"winch"}
	}
	for _, p := range worldPositions {
		if r.IntN(2) == 0 {
			rec.Components = append(rec.Components, w.unit(r, p, fmt.Sprintf("T%d-%s", i, p[:2])))
		}
	}
	for range r.IntN(3) {
		u := schedule.UseFact{Kind: pick(r, []schedule.UseKind{schedule.SaltCoast, schedule.WadingUse, schedule.LaidUp}), Start: day(2015, 1, 1).AddDays(r.IntN(4500))}
		if r.IntN(2) == 0 {
			u.End = u.Start.AddDays(r.IntN(400))
		}
		w.uses[rec.Serial] = append(w.uses[rec.Serial], u)
	}
	return rec
}

func (w *world) unit(r *rand.Rand, position, serial string) build.Component {
	c := build.Component{Position: position}
	if r.IntN(4) > 0 {
		c.Part = pick(r, worldParts)
	}
	if r.IntN(3) > 0 {
		c.Lot = pick(r, worldLots)
	}
	if r.IntN(2) == 0 {
		c.Serial = serial
	}
	return c
}

// happen makes n changes in the order of their days; three of ten are halves of
// moves.
func (w *world) happen(r *rand.Rand, n int) {
	for i := range n {
		at := day(2013, 1, 1).AddDays(i * 5200 / n) // some are later than the day asked about
		serial := pick(r, w.records).Serial
		c := build.Change{
			Serial: serial, ID: fmt.Sprintf("c%d", i), Date: at, Created: time.Unix(int64(i), 0),
			Source: pick(r, []build.ChangeSource{build.SourceService, build.SourceWorks, build.SourceCampaign, build.SourceOwner}),
		}
		position := pick(r, worldPositions)
		switch k := r.IntN(10); {
		case k < 3:
			c.Kind, c.Component = build.Fit, w.unit(r, position, fmt.Sprintf("N%d", i))
		case k < 4:
			c.Kind, c.Component = build.Remove, build.Component{Position: position}
		case k < 7:
			w.move(r, c, position)
			continue
		case k < 8:
			c.Kind, c.Component = build.Overhaul, build.Component{Position: position, Lot: pick(r, append(worldLots, ""))}
		case k < 9:
			c.Kind, c.Release, c.Positions = build.Upgrade, pick(r, worldReleases), []string{position}
		default:
			c.Kind, c.Option = build.OptionAdded, pick(r, []string{"winch", "lsd-rear"})
			if r.IntN(3) == 0 {
				c.Kind = build.OptionRemoved
			}
		}
		w.changes[serial] = append(w.changes[serial], c)
	}
}

// move takes a unit from one vehicle to another by build's own decision; where
// nothing stands, nothing happens.
func (w *world) move(r *rand.Rand, c build.Change, position string) {
	from, to := pick(r, w.records), pick(r, w.records)
	if from.Serial == to.Serial {
		return
	}
	m := build.Move{From: &from, To: &to, FromPosition: position, ToPosition: position, Date: c.Date}
	removed, fitted, err := m.Changes(w.changes[from.Serial], w.releases)
	if err != nil {
		return
	}
	removed.ID, fitted.ID, removed.Created, fitted.Created = c.ID, c.ID, c.Created, c.Created
	removed.Counterpart, fitted.Counterpart = fitted.Name(), removed.Name()
	if r.IntN(3) == 0 {
		fitted.Component.Lot = "" // whoever wrote it down did not look
	}
	w.changes[from.Serial] = append(w.changes[from.Serial], removed)
	w.changes[to.Serial] = append(w.changes[to.Serial], fitted)
}

// fleet makes the fleet of the day.
func (w *world) fleet(t testing.TB) *bulletin.Fleet {
	t.Helper()
	var vehicles []bulletin.Vehicle
	for _, rec := range w.records {
		if rec.Built.After(w.on) {
			continue
		}
		v, err := bulletin.VehicleOf(rec, w.changes[rec.Serial], w.releases, w.on)
		if err != nil {
			t.Fatal(err)
		}
		v.Uses = w.uses[rec.Serial]
		vehicles = append(vehicles, v)
	}
	return bulletin.NewFleet(vehicles, w.on)
}

func compiler(t testing.TB) vehicle.PredicateCompiler {
	t.Helper()
	c, err := predicate.NewCompiler()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// bulletinFor is a campaign for a set, whose remedy fits AP-3002 at the gearbox.
func bulletinFor(set bulletin.Set) bulletin.Bulletin {
	return bulletin.Bulletin{
		ID: "C-2026-02", Version: 1, Kind: bulletin.Campaign, State: bulletin.Draft, Title: "Gearbox", Fault: "It leaks.", Consequence: "It runs dry.", Set: set,
		Remedy: []bulletin.RemedyItem{{ID: "C1", Title: "Another gearbox", Parts: []bulletin.RemedyPart{{Position: "gearbox", Part: "AP-3002", Quantity: 1}}}},
	}
}

// randomSet makes a set of a list and a condition.
func (w *world) randomSet(r *rand.Rand) bulletin.Set {
	var s bulletin.Set
	for range r.IntN(3) {
		s.Serials = append(s.Serials, pick(r, w.records).Serial)
	}
	for range r.IntN(3) {
		s.Except = append(s.Except, pick(r, w.records).Serial)
	}
	slices.Sort(s.Serials)
	slices.Sort(s.Except)
	s.Serials, s.Except = slices.Compact(s.Serials), slices.Compact(s.Except)
	c := w.condition(r, 3)
	s.When = &c
	return s
}

func (w *world) condition(r *rand.Rand, depth int) bulletin.Condition {
	several := func() []bulletin.Condition {
		out := []bulletin.Condition{}
		for range 1 + r.IntN(3) {
			out = append(out, w.condition(r, depth-1))
		}
		return out
	}
	if depth > 0 {
		switch r.IntN(5) {
		case 0, 1:
			return bulletin.Condition{All: several()}
		case 2:
			return bulletin.Condition{Any: several()}
		case 3:
			c := w.condition(r, depth-1)
			return bulletin.Condition{Not: &c}
		}
	}
	return w.single(r)
}

var expressions = []string{`release == "R2"`, `"winch" in options`, `"plain" in fitted["swivel-housing-left"]`}

func (w *world) single(r *rand.Rand) bulletin.Condition {
	some := func(from []string) []string {
		return slices.Compact(slices.Sorted(slices.Values([]string{pick(r, from), pick(r, from)})))
	}
	dates := func() *bulletin.DateRange {
		d := bulletin.DateRange{Start: day(2012, 1, 1).AddDays(r.IntN(3000))}
		d.End = d.Start.AddDays(r.IntN(900))
		switch r.IntN(4) {
		case 0:
			d.Start = vehicle.Date{}
		case 1:
			d.End = vehicle.Date{}
		}
		return &d
	}
	switch r.IntN(14) {
	case 0:
		return bulletin.Condition{Release: &bulletin.ReleaseCondition{Releases: some(worldReleases), AsBuilt: r.IntN(2) == 0}}
	case 1:
		return bulletin.Condition{Option: &bulletin.OptionCondition{Option: pick(r, []string{"winch", "lsd-rear"}), AsBuilt: r.IntN(2) == 0}}
	case 2, 3:
		a, b := r.IntN(len(w.records)), r.IntN(len(w.records))
		s := &bulletin.SerialRange{First: w.records[min(a, b)].Serial, Last: w.records[max(a, b)].Serial}
		if r.IntN(3) == 0 {
			s.First = ""
		}
		if r.IntN(3) == 0 {
			s.Except = []vehicle.Serial{pick(r, w.records).Serial}
		}
		return bulletin.Condition{Serials: s}
	case 4:
		return bulletin.Condition{Built: dates()}
	case 5:
		return bulletin.Condition{Delivered: dates()}
	case 6:
		kinds := []schedule.UseKind{pick(r, []schedule.UseKind{schedule.SaltCoast, schedule.WadingUse, schedule.Dust})}
		return bulletin.Condition{Use: &bulletin.UseCondition{Kinds: kinds, Ever: r.IntN(2) == 0}}
	case 7:
		return bulletin.Condition{Markets: []string{pick(r, []string{"GB", "FR", "NL"})}}
	case 8:
		return bulletin.Condition{Wheelbases: []string{pick(r, []string{"short", "long"})}}
	case 9:
		return bulletin.Condition{Expression: pick(r, expressions)}
	}
	u := &bulletin.FittedUnit{Ever: r.IntN(2) == 0}
	if r.IntN(3) > 0 {
		u.Position = pick(r, worldPositions)
	}
	if r.IntN(2) == 0 || u.Position == "" {
		u.Parts = some(worldParts)
	}
	if r.IntN(3) > 0 {
		u.Lots = some(worldLots)
	}
	if r.IntN(6) == 0 {
		u.Serials = []string{fmt.Sprintf("t %d %s", r.IntN(len(w.records)), pick(r, worldPositions)[:2])}
	}
	return bulletin.Condition{Fitted: u}
}
