package parts_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// census is the dumb way to find overlaps and gaps: it goes through every
// vehicle that could be built, one by one, and asks the dumb resolver of each.
// It keeps the rows that hold at once, and the positions at which, for a
// release, nothing holds.
type census struct {
	*shop
	days     []vehicle.Date
	markets  []string
	lots     []string
	overlaps map[string]bool // "applications/A01 beside applications/A00"
	gaps     map[string]bool // "alpha-seal R1"
}

// competing are rows of which one decides.
type competing struct {
	position string
	names    []string
	rows     []*parts.Conditions
	must     bool // whether one of them has to hold
}

// groups are all competing rows.
func (w *shop) groups() []*competing {
	found := map[string]*competing{}
	add := func(position, key, name string, row *parts.Conditions, must bool) {
		if found[key] == nil {
			found[key] = &competing{position: position, must: must}
		}
		found[key].names, found[key].rows = append(found[key].names, name), append(found[key].rows, row)
	}
	for i := range w.applications {
		a := &w.applications[i]
		add(a.Position, "application "+a.Position, parts.ApplicationName(a.ID), &a.Conditions, w.above(a.Position) != "")
	}
	for i := range w.settings {
		s := &w.settings[i]
		add(s.Position, strings.Join([]string{"setting", s.Position, s.Characteristic, s.Subject}, " "), parts.SettingName(s.ID), &s.Conditions, false)
	}
	for i := range w.capacities {
		f := &w.capacities[i]
		add(f.Position, "capacity "+f.Position, parts.CapacityName(f.ID), &f.Conditions, false)
	}
	return slices.Collect(maps.Values(found))
}

// named collects what the rows name, and one of each that none names.
func (c *census) named() {
	c.markets, c.lots = []string{"IT", "GB", "FR"}, []string{"L9"}
	days := map[string]bool{}
	for _, g := range c.groups() {
		for _, row := range g.rows {
			c.lots = append(c.lots, row.Lots...)
			for _, d := range []vehicle.Date{row.BuiltFrom, row.BuiltUntil} {
				if !d.IsZero() {
					days[d.AddDays(-1).String()], days[d.String()], days[d.AddDays(1).String()] = true, true, true
				}
			}
		}
	}
	slices.Sort(c.lots)
	c.lots = slices.Compact(c.lots)
	days["2030-01-01"] = true
	for d := range days {
		c.days = append(c.days, day(d))
	}
}

// everyVehicle asks of every release with every set of its options that can be
// built.
func (c *census) everyVehicle(t failer) {
	for _, r := range c.releases {
		days := append([]vehicle.Date{r.Effective}, c.days...)
		for mask := range 1 << len(r.Options) {
			var set []string
			for i, o := range r.Options {
				if mask&(1<<i) != 0 {
					set = append(set, o.ID)
				}
			}
			if !allowed(r, set) {
				continue
			}
			for _, g := range c.groups() {
				for _, on := range days {
					if !on.Before(r.Effective) {
						c.ask(t, g, build.Record{Release: r.ID, Options: set, Built: on})
					}
				}
			}
		}
	}
}

// allowed says whether every option of a set has what it needs and nothing that
// it rules out.
func allowed(r *build.Release, set []string) bool {
	for _, o := range r.Options {
		if !slices.Contains(set, o.ID) {
			continue
		}
		for _, need := range o.Requires {
			if !slices.Contains(set, need) {
				return false
			}
		}
		for _, bad := range o.Excludes {
			if slices.Contains(set, bad) {
				return false
			}
		}
	}
	return true
}

// everySerial is each serial about the bounds that are drawn, in the order in
// which a works gives them out.
var everySerial = func() (all []vehicle.Serial) {
	for _, n := range []int{6, 7, 8, 9, 10, 11, 12, 99, 100, 101} {
		all = append(all, serial(fmt.Sprintf("AB%d", n)))
	}
	return all
}()

// ask asks one group of rows of the vehicles of one outfit and day: each
// serial, market, lot and wheelbase.
func (c *census) ask(t failer, g *competing, rec build.Record) {
	root := c.root(g.position)
	for _, lot := range c.lots {
		for _, wheelbase := range []string{"short", "long"} {
			for _, market := range c.markets {
				rec.Market, rec.Wheelbase = market, wheelbase
				conf, specified, err := build.ConfigureSpecified(rec, nil, c.releases, rec.Built)
				if err != nil {
					t.Fatal(err)
				}
				c.on, c.conf, c.specified, c.built = day("9999-12-31"), conf, specified, rec.Built
				f := c.stands(root)
				if f == nil || !c.canBeAsked(g, conf.Release) {
					continue
				}
				f.Component.Lot = lot
				for _, s := range everySerial {
					c.conf.Serial = s
					c.decided(g, rec.Release)
				}
			}
		}
	}
}

// canBeAsked is false where an expression asks for what is not there: that is
// a fault of its own, and nothing is said of the outfit.
func (c *census) canBeAsked(g *competing, release string) bool {
	for _, row := range g.rows {
		if len(row.Releases) > 0 && !slices.Contains(row.Releases, release) {
			continue
		}
		if strings.Contains(row.AppliesWhen, `in fitted["alpha"]`) && c.stands("alpha") == nil {
			return false
		}
	}
	return true
}

func (c *census) decided(g *competing, release string) {
	found := c.candidates(g.position, g.rows)
	if len(found) == 0 && g.must {
		c.gaps[g.position+" "+release] = true
	}
	if len(found) > 1 {
		c.overlaps[g.names[found[1]]+" beside "+g.names[found[0]]] = true
	}
}

// reported reads overlaps and gaps out of what Check says.
func (w *shop) reported() (overlaps, gaps map[string]bool) {
	overlaps, gaps = map[string]bool{}, map[string]bool{}
	at := map[string]string{}
	for _, a := range w.applications {
		at[parts.ApplicationName(a.ID)] = a.Position
	}
	for _, f := range w.catalogue().Check(w.releases) {
		record := strings.TrimSuffix(strings.TrimPrefix(f.Name, "rows["), "].conditions")
		if first, ok := strings.CutPrefix(f.Want, "no vehicle that "); ok {
			overlaps[record+" beside "+strings.TrimSuffix(first, " holds for too")] = true
		}
		if strings.HasPrefix(f.Want, "an application that holds for the ") {
			release, _, _ := strings.Cut(strings.TrimPrefix(f.Got, "release "), " ")
			gaps[at[record]+" "+strings.TrimSuffix(release, ",")] = true
		}
	}
	return overlaps, gaps
}

// drawCatalogue draws few rows at few positions, so that all vehicles can be
// gone through.
func drawCatalogue(t *rapid.T) *shop {
	s := drawShop(t)
	s.settings, s.capacities = nil, nil
	s.applications = s.applications[:0]
	at := []string{pick(t, "a place", "alpha-seal", "alpha-seal-spring", "beta-ring", "delta-pin"), pick(t, "a root", drawnRoots...)}
	for i := range rapid.IntRange(1, 4).Draw(t, "rows") {
		s.applications = append(s.applications, parts.Application{ID: fmt.Sprintf("A%02d", i), Position: at[rapid.IntRange(0, 3).Draw(t, "which")/3],
			Part: drawNumber(t, "applied"), Conditions: drawConditions(t)})
	}
	if a := &s.applications[0].Conditions; rapid.Bool().Draw(t, "only together") {
		a.Together = append(a.Together, drawNumber(t, "together with")) // options bring it, or take it away
	}
	for i := range rapid.IntRange(0, 2).Draw(t, "settings") {
		s.settings = append(s.settings, parts.Setting{ID: fmt.Sprintf("T%02d", i), Position: at[i%2], Unit: "mm", Target: "1",
			Characteristic: "gap", Subject: pick(t, "subject", "", "", "bolts"), Conditions: drawConditions(t)})
	}
	for i := range rapid.IntRange(0, 2).Draw(t, "capacities") {
		s.capacities = append(s.capacities, parts.Capacity{ID: fmt.Sprintf("F%02d", i), Position: at[1], Conditions: drawConditions(t)})
	}
	return s
}

func goesThroughEveryVehicle(t *rapid.T) {
	w := drawCatalogue(t)
	w.surveysAlike(t)
}

// surveysAlike compares what Check reports with what the census finds, and
// gives it.
func (w *shop) surveysAlike(t failer) (overlaps, gaps map[string]bool) {
	overlaps, gaps = w.reported()
	c := &census{shop: w, overlaps: map[string]bool{}, gaps: map[string]bool{}}
	c.named()
	c.everyVehicle(t)
	if !maps.Equal(overlaps, c.overlaps) || !maps.Equal(gaps, c.gaps) {
		w.showsCatalogue(t)
		t.Fatalf("overlaps reported %v, found %v; gaps reported %v, found %v", keys(overlaps), keys(c.overlaps), keys(gaps), keys(c.gaps))
	}
	return overlaps, gaps
}

// failer is a test, or one case of a property.
type failer interface {
	Logf(format string, args ...any)
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

// showsCatalogue shows what a failed survey was about.
func (w *shop) showsCatalogue(t failer) {
	for _, g := range w.groups() {
		for i, c := range g.rows {
			t.Logf("%s at %s when %+v", g.names[i], g.position, *c)
		}
	}
	for _, r := range w.releases {
		t.Logf("%s %v", r.ID, r.Fitments)
		for _, o := range r.Options {
			t.Logf("  %s: %v without %v, needs %v, rules out %v", o.ID, o.Fitments, o.Removes, o.Requires, o.Excludes)
		}
	}
	for _, s := range w.supersessions {
		t.Logf("%+v", s)
	}
	for _, s := range w.parts {
		if len(s.Contents) > 0 {
			t.Logf("%s %v", s.Number, s.Contents)
		}
	}
}

func keys(m map[string]bool) []string { return slices.Sorted(maps.Keys(m)) }

func TestTheSurveyFindsWhatGoingThroughEveryVehicleFinds(t *testing.T) {
	defer checks(t, "30")()
	rapid.Check(t, goesThroughEveryVehicle)
}
