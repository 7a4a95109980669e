package parts_test

import (
	"fmt"
	"slices"
	"sync"

	"pgregory.net/rapid"

	"halfshaft/services/build"
	"halfshaft/services/internal/predicate"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// What the random shops are drawn from: little, so that rows meet.
var (
	drawnRoots  = []string{"alpha", "beta", "gamma", "delta"}
	drawnPlaces = []parts.Position{
		{ID: "alpha-seal", Title: "Alpha seal", Within: "alpha"}, {ID: "alpha-seal-spring", Title: "Alpha seal spring", Within: "alpha-seal"},
		{ID: "beta-ring", Title: "Beta ring", Within: "beta"}, {ID: "delta-pin", Title: "Delta pin", Within: "delta"},
		{ID: "beta", Title: "Beta"}, {ID: "gamma", Title: "Gamma"}, {ID: "delta", Title: "Delta"},
	}
	drawnOptions = []string{"winch", "lux", "tow"}
	drawnSerials = []string{"AB7", "AB9", "AB10", "AB11", "AB100"}
	drawnDays    = []string{"2010-06-01", "2011-06-01", "2012-06-01"}
	drawnMarkets = []string{"GB", "FR"}
	drawnLots    = []string{"L1", "L2", "l-1"}

	drawnExpressions = []string{
		`release == "R1"`, `"winch" in options`, `"delta" in fitted`, `"oil" in fitted["alpha"]`,
		`"beta" in fitted && "oil" in fitted["beta"]`, `wheelbase == "long"`, `market != "GB"`, `release in ["R2", "R3"] || "tow" in options`,
		`options.size() > 1`, `fitted.exists(p, p != "alpha" && "oil" in fitted[p])`, `size(fitted) == 4`,
	}
)

const drawnParts = 9

func drawnNumber(i int) string { return fmt.Sprintf("P-%d", i) }

func drawNumber(t *rapid.T, label string) string {
	return drawnNumber(rapid.IntRange(0, drawnParts-1).Draw(t, label))
}

// rarely is true once in n times.
func rarely(t *rapid.T, n int, label string) bool { return rapid.IntRange(1, n).Draw(t, label) == n }

func someOf(t *rapid.T, label string, of ...string) []string {
	return rapid.SliceOfNDistinct(rapid.SampledFrom(of), 1, 2, rapid.ID).Draw(t, label)
}

func drawConditions(t *rapid.T) parts.Conditions {
	var c parts.Conditions
	for range rapid.IntRange(0, 3).Draw(t, "conditions") {
		switch rapid.IntRange(0, 9).Draw(t, "condition") {
		case 0:
			c.Releases = someOf(t, "releases", "R1", "R2", "R3")
		case 1:
			c.Options = someOf(t, "options", drawnOptions...)[:1]
		case 2:
			c.Without = someOf(t, "without", drawnOptions...)
		case 3:
			drawSerials(t, &c)
		case 4, 5:
			if rapid.Bool().Draw(t, "from") {
				c.BuiltFrom = day(pick(t, "built from", drawnDays...))
			} else {
				c.BuiltUntil = day(pick(t, "built until", drawnDays...))
			}
		case 6:
			c.Markets = someOf(t, "markets", drawnMarkets...)
		case 7:
			c.Lots = someOf(t, "lots", drawnLots...)
		case 8:
			c.Together = append(c.Together, drawNumber(t, "together with"))
		case 9:
			c.AppliesWhen = pick(t, "applies when", drawnExpressions...)
		}
	}
	c.Otherwise = rarely(t, 4, "otherwise")
	return c
}

func drawSerials(t *rapid.T, c *parts.Conditions) {
	switch rapid.IntRange(0, 3).Draw(t, "serials") {
	case 0:
		c.FirstSerial = serial(pick(t, "first", drawnSerials...))
	case 1:
		c.LastSerial = serial(pick(t, "last", drawnSerials...))
	case 2:
		i := rapid.IntRange(0, len(drawnSerials)-1).Draw(t, "first of range")
		c.FirstSerial, c.LastSerial = serial(drawnSerials[i]), serial(pick(t, "last of range", drawnSerials[i:]...))
	}
	if rapid.Bool().Draw(t, "with an exception") {
		c.Except = append(c.Except, serial(pick(t, "except", drawnSerials...)))
	}
}

// drawOptions draws what each release offers, and what the options do.
func drawOptions(t *rapid.T) []build.Option {
	var options []build.Option
	for _, id := range drawnOptions {
		if rarely(t, 4, "left out") {
			continue
		}
		o := build.Option{ID: id, Title: id}
		position := pick(t, "fits at", drawnRoots...)
		o.Fitments = append(o.Fitments, drawFitment(t, position))
		if other := pick(t, "removes", drawnRoots...); other != position && rarely(t, 2, "removes") {
			o.Removes = append(o.Removes, other)
		}
		if n := len(options); n > 0 {
			switch rapid.IntRange(0, 3).Draw(t, "needs") {
			case 0:
				o.Requires = append(o.Requires, options[n-1].ID)
			case 1:
				o.Excludes = append(o.Excludes, options[n-1].ID)
			}
		}
		options = append(options, o)
	}
	return options
}

func drawFitment(t *rapid.T, position string) build.Fitment {
	f := fitment(position, drawNumber(t, "part"), rapid.IntRange(0, 3).Draw(t, "count"))
	if rapid.Bool().Draw(t, "trait") {
		f.Traits = []string{"oil"}
	}
	return f
}

func drawReleases(t *rapid.T) build.ReleaseSet {
	releases := build.ReleaseSet{}
	for i, id := range []string{"R1", "R2", "R3"}[:rapid.IntRange(2, 3).Draw(t, "releases")] {
		r := &build.Release{ID: id, Effective: day(fmt.Sprintf("200%d-01-01", 6+i)), Options: drawOptions(t)}
		for _, position := range drawnRoots {
			if position == "alpha" || !rarely(t, 4, "left out") {
				r.Fitments = append(r.Fitments, drawFitment(t, position))
			}
		}
		releases[id] = r
	}
	return releases
}

// drawShop draws everything but the vehicles.
func drawShop(t *rapid.T) *shop {
	w, _, _ := drawWorld(t)
	s := &shop{world: w, releases: drawReleases(t), positions: drawnPlaces, evaluate: evaluate}
	for i := range s.parts {
		if rarely(t, 5, "kit") && i > 0 {
			s.parts[i].Contents = lines(line(drawnNumber(rapid.IntRange(0, i-1).Draw(t, "holds")), 1))
		}
	}
	positions := slices.Clone(drawnRoots)
	for _, p := range drawnPlaces[:4] {
		positions = append(positions, p.ID, p.ID) // where only rows decide, more of them
	}
	for i := range rapid.IntRange(4, 16).Draw(t, "applications") {
		a := parts.Application{ID: fmt.Sprintf("A%02d", i), Position: pick(t, "at", positions...), Part: drawNumber(t, "applied"),
			Quantity: rapid.IntRange(0, 2).Draw(t, "quantity"), Conditions: drawConditions(t), Text: "it is the shop's"}
		if rarely(t, 6, "nothing supplied") {
			a.Part = ""
		}
		s.applications = append(s.applications, a)
	}
	for i := range rapid.IntRange(0, 6).Draw(t, "settings") {
		s.settings = append(s.settings, parts.Setting{ID: fmt.Sprintf("T%02d", i), Position: pick(t, "set at", positions...), Unit: "mm", Target: "1",
			Characteristic: pick(t, "characteristic", "gap", "torque"), Subject: pick(t, "subject", "", "bolts"), Conditions: drawConditions(t)})
	}
	for i := range rapid.IntRange(0, 6).Draw(t, "capacities") {
		s.capacities = append(s.capacities, parts.Capacity{ID: fmt.Sprintf("F%02d", i), Position: pick(t, "filled at", positions...),
			Fluid: "oil", Family: "oil", Conditions: drawConditions(t)})
	}
	return s
}

// drawLife draws a vehicle of the shop, and what happened to it.
func drawLife(t *rapid.T, s *shop) life {
	options := rapid.SliceOfNDistinct(rapid.SampledFrom(drawnOptions), 0, 2, rapid.ID).Draw(t, "built with")
	l := built(pick(t, "serial", drawnSerials...), pick(t, "built to", "R1", "R2"), options...)
	l.record.Built = day(pick(t, "built", drawnDays...))
	l.record.Market = pick(t, "market", "", "GB", "FR", "IT")
	l.record.Wheelbase = pick(t, "wheelbase", "", "short", "long")
	anywhere := append(slices.Clone(drawnRoots), "alpha", "alpha-seal", "alpha-seal-spring", "beta-ring", "delta-pin")
	lot := func() string { return pick(t, "lot", "", "", "L1", "L2", "L3") }
	for _, position := range rapid.SliceOfNDistinct(rapid.SampledFrom(anywhere), 0, 2, rapid.ID).Draw(t, "recorded") {
		l.record.Components = append(l.record.Components, build.Component{Position: position, Part: drawNumber(t, "unit"), Lot: lot()})
	}
	for i := range rapid.IntRange(0, 4).Draw(t, "changes") {
		c := build.Change{Serial: l.record.Serial, ID: fmt.Sprintf("c%d", i), Date: day(fmt.Sprintf("201%d-03-0%d", 3+i, 1+i)),
			Source: pick(t, "source", build.SourceService, build.SourceWorks, build.SourceCampaign, build.SourceOwner)}
		position := pick(t, "position", anywhere...)
		switch c.Kind = pick(t, "kind", build.Fit, build.Fit, build.Remove, build.Overhaul, build.Upgrade, build.OptionAdded, build.OptionRemoved); c.Kind {
		case build.Upgrade:
			c.Release, c.Positions = pick(t, "to", "R1", "R2", "R3"), []string{pick(t, "upgraded", drawnRoots...)}
			if s.releases[c.Release] == nil {
				c.Release = "R2"
			}
		case build.OptionAdded, build.OptionRemoved:
			c.Option = pick(t, "option", drawnOptions...)
		case build.Fit:
			c.Component = build.Component{Position: position, Part: pick(t, "fitted", drawnNumber(0), drawnNumber(3), drawnNumber(6), "ZZ-9"), Lot: lot()}
		default:
			c.Component = build.Component{Position: position, Lot: lot()}
		}
		l.changes = append(l.changes, c)
	}
	return l
}

// onDay makes the shop ready for questions about one vehicle on one day, and
// gives the vehicle for the answerer.
func (w *shop) onDay(t *rapid.T, l life, on vehicle.Date) *parts.Vehicle {
	conf, specified, err := build.ConfigureSpecified(l.record, l.changes, w.releases, on)
	if err != nil {
		t.Fatal(err)
	}
	w.on, w.conf, w.specified, w.built = on, conf, specified, l.record.Built
	if rarely(t, 5, "no build day known") {
		w.built = vehicle.Date{}
	}
	return &parts.Vehicle{Configuration: conf, Specified: specified, Built: w.built}
}

// catalogue puts everything of the shop into the real one.
func (w *shop) catalogue() *parts.Catalogue {
	c := parts.NewCatalogue()
	c.Expressions(expressions)
	for _, p := range w.parts {
		c.Put(p)
	}
	for _, s := range w.supersessions {
		c.PutSupersession(s)
	}
	for _, p := range w.positions {
		c.PutPosition(p)
	}
	for _, a := range w.applications {
		c.PutApplication(a)
	}
	for _, s := range w.settings {
		c.PutSetting(s)
	}
	for _, f := range w.capacities {
		c.PutCapacity(f)
	}
	c.Seal()
	return c
}

var expressions = func() *predicate.Compiler {
	c, err := predicate.NewCompiler()
	if err != nil {
		panic(err)
	}
	return c
}()

// compiledOnce keeps what was compiled, which is most of the time.
var compiledOnce sync.Map

func evaluate(expression string, makeup vehicle.Makeup) sure {
	p, ok := compiledOnce.Load(expression)
	if !ok {
		made, problems := expressions.Compile(expression)
		if len(problems) > 0 {
			return never
		}
		p, _ = compiledOnce.LoadOrStore(expression, made)
	}
	holds, err := p.(vehicle.Predicate).Applies(makeup)
	if err != nil {
		return perhaps
	}
	return sureIf(holds)
}

// drawnPositions is every position that a question may name.
func drawnPositions() []string {
	all := slices.Clone(drawnRoots)
	for _, p := range drawnPlaces {
		if !slices.Contains(all, p.ID) {
			all = append(all, p.ID)
		}
	}
	return all
}
