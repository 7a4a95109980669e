package parts_test

import (
	"slices"

	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// shop is a world that knows what belongs where as well. It is as dumb: each
// question reads every row and applies every rule, and it was written from the
// rules in words and not from the code that it checks.
type shop struct {
	world
	releases     build.ReleaseSet
	positions    []parts.Position
	applications []parts.Application
	settings     []parts.Setting
	capacities   []parts.Capacity

	specified []build.Specified
	built     vehicle.Date
	evaluate  evaluator
}

// evaluator says whether an expression is true; nobody knows of one that asks
// for what is not there.
type evaluator func(expression string, makeup vehicle.Makeup) sure

// sure says how sure it is that a row holds.
type sure int

const (
	never sure = iota
	perhaps
	certainly
)

func sureIf(b bool) sure {
	if b {
		return certainly
	}
	return never
}

// above is the assembly that a position is on; empty for one on none.
func (w *shop) above(position string) string {
	for _, p := range w.positions {
		if p.ID == position {
			return p.Within
		}
	}
	return ""
}

// chain is a position, what it is on, and so on up to one that stands for
// itself. What is recorded on an assembly that the vehicle does not have stands
// for itself too.
func (w *shop) chain(position string) []string {
	root := w.root(position)
	if w.stands(root) == nil && w.calls(root).Part == "" {
		return []string{position}
	}
	chain := []string{position}
	for up := w.above(position); up != ""; up = w.above(up) {
		chain = append(chain, up)
	}
	return chain
}

func (w *shop) root(position string) string {
	for up := w.above(position); up != ""; up = w.above(up) {
		position = up
	}
	return position
}

// calls is the row of the specification for a position.
func (w *shop) calls(position string) build.Specified {
	for _, s := range w.specified {
		if s.Position == position {
			return s
		}
	}
	return build.Specified{}
}

func (w *shop) stands(position string) *build.Fitted {
	for i := range w.conf.Fitted {
		if w.conf.Fitted[i].Component.Position == position {
			return &w.conf.Fitted[i]
		}
	}
	return nil
}

// has says whether the vehicle has a position: something stands at its root, or
// should; or something is recorded there all the same.
func (w *shop) has(position string) bool {
	root := w.root(position)
	return w.stands(position) != nil || w.stands(root) != nil || w.calls(root).Part != ""
}

// follows is the release that a position follows: what its root does.
func (w *shop) follows(position string) string {
	chain := w.chain(position)
	root := chain[len(chain)-1]
	if f := w.stands(root); f != nil {
		return f.Release
	}
	return w.calls(root).Release
}

// judge applies every condition of a row.
func (w *shop) judge(c *parts.Conditions, position string) sure {
	verdicts := []sure{
		sureIf(len(c.Releases) == 0 || slices.Contains(c.Releases, w.follows(position))),
		sureIf(w.inForce(c.Options) == len(c.Options)),
		sureIf(w.inForce(c.Without) == 0),
		sureIf(w.serialMeant(c)),
		w.builtThen(c),
		w.inMarket(c),
		w.ofLot(c, position),
		w.meant(c),
	}
	for _, number := range c.Together {
		verdicts = append(verdicts, sureIf(w.anywhere(number)))
	}
	return slices.Min(verdicts)
}

func (w *shop) meant(c *parts.Conditions) sure {
	if c.AppliesWhen == "" {
		return certainly
	}
	return w.evaluate(c.AppliesWhen, w.makeup())
}

func (w *shop) inForce(options []string) int {
	n := 0
	for _, o := range options {
		for _, has := range w.conf.Options {
			if has == o {
				n++
			}
		}
	}
	return n
}

func (w *shop) serialMeant(c *parts.Conditions) bool {
	for _, e := range c.Except {
		if e == w.conf.Serial {
			return false
		}
	}
	return (c.FirstSerial == "" || !sooner(w.conf.Serial, c.FirstSerial)) && (c.LastSerial == "" || !sooner(c.LastSerial, w.conf.Serial))
}

// sooner orders serials as they are issued: AM99 before AM100.
func sooner(a, b vehicle.Serial) bool {
	if len(a.Body()) != len(b.Body()) {
		return len(a.Body()) < len(b.Body())
	}
	return a.Body() < b.Body()
}

func (w *shop) builtThen(c *parts.Conditions) sure {
	switch {
	case c.BuiltFrom.IsZero() && c.BuiltUntil.IsZero():
		return certainly
	case w.built.IsZero():
		return perhaps
	}
	return sureIf((c.BuiltFrom.IsZero() || w.built.String() >= c.BuiltFrom.String()) &&
		(c.BuiltUntil.IsZero() || w.built.String() <= c.BuiltUntil.String()))
}

func (w *shop) inMarket(c *parts.Conditions) sure {
	switch {
	case len(c.Markets) == 0:
		return certainly
	case w.conf.Market == "":
		return perhaps
	}
	return sureIf(slices.Contains(c.Markets, w.conf.Market))
}

// ofLot looks at the lots of the place and of all that it is on: what stands
// there without one may be of any.
func (w *shop) ofLot(c *parts.Conditions, position string) sure {
	if len(c.Lots) == 0 {
		return certainly
	}
	named, unnamed := 0, 0
	for _, at := range w.chain(position) {
		f := w.stands(at)
		switch {
		case f == nil:
		case build.Fold(f.Component.Lot) == "":
			unnamed++
		case slices.ContainsFunc(c.Lots, func(l string) bool { return build.Fold(l) == build.Fold(f.Component.Lot) }):
			return certainly
		default:
			named++
		}
	}
	if named > 0 && unnamed == 0 {
		return never
	}
	return perhaps
}

func (w *shop) makeup() vehicle.Makeup {
	m := vehicle.Makeup{Release: w.conf.Release, Options: w.conf.Options, Wheelbase: w.conf.Wheelbase, Market: w.conf.Market, AxleRatio: w.conf.Drive.AxleRatio.Float64(),
		SpeedometerDrive: w.conf.Drive.Gears(), TyreSize: w.conf.Tyre.Size, Fitted: map[string][]string{}}
	for _, f := range w.conf.Fitted {
		m.Fitted[f.Component.Position] = f.Component.Traits
	}
	return m
}

// candidates are the rows, by their number, between which the records do not
// tell; one when they do. Those that hold otherwise come last.
func (w *shop) candidates(position string, rows []*parts.Conditions) []int {
	var out []int
	settled := false
	for i, c := range rows {
		if v := w.judge(c, position); !c.Otherwise && v > never {
			out = append(out, i)
			settled = settled || v == certainly
		}
	}
	for i, c := range rows {
		if c.Otherwise && !settled && w.judge(c, position) > never {
			out = append(out, i)
		}
	}
	return out
}

// decision is what the rules say of a position.
type decision struct {
	bases    []based
	rule     string // by which nothing is offered, when there are no bases
	question bool   // whether there must be a question, even with one part that can be offered
}

// based is a part from which what is ordered is found.
type based struct {
	part  string
	count int
}

func (w *shop) applicable(position string) []parts.Application {
	var rows []parts.Application
	var conditions []*parts.Conditions
	for _, a := range w.applications {
		if a.Position == position {
			rows = append(rows, a)
			conditions = append(conditions, &a.Conditions)
		}
	}
	var out []parts.Application
	for _, i := range w.candidates(position, conditions) {
		out = append(out, rows[i])
	}
	return out
}

// decide applies the rules to a position.
func (w *shop) decide(position string) decision {
	if !w.has(position) {
		return decision{rule: parts.PositionEmpty}
	}
	found := w.applicable(position)
	if len(found) > 1 {
		if d := w.several(position, found); len(d.bases) > 0 {
			return d
		}
		found = found[:1] // none of them gives a part: whichever holds
	}
	small, fitted, call := w.above(position) != "", w.stands(position), w.calls(position)
	want, count := call.Part, call.Quantity
	if fitted != nil {
		count = fitted.Quantity
	}
	if small {
		want, count = "", max(count, 1)
	}
	if len(found) == 1 {
		want = found[0].Part
		count = w.quantity(position, &found[0], count)
	}
	recorded := fitted != nil
	if recorded && len(found) == 1 && (fitted.Origin == build.FromRelease || fitted.Origin == build.FromOption) {
		recorded = false
	}
	switch {
	case !recorded && want != "":
		return decision{bases: []based{{want, count}}}
	case !recorded && len(found) == 1:
		return decision{rule: parts.NothingSupplied}
	case !recorded:
		return decision{rule: parts.NoApplication}
	}
	d := decision{rule: parts.PositionEmpty}
	for _, b := range w.fittedBases(fitted, want, w.follows(position)) {
		d.bases = append(d.bases, based{b, count})
	}
	return d
}

// quantity is the application's where it says one, and where nothing else can.
func (w *shop) quantity(position string, a *parts.Application, otherwise int) int {
	if a.Part == "" {
		return otherwise // none is supplied: it says nothing of what is recorded all the same
	}
	if a.Quantity > 0 || w.above(position) != "" {
		return max(a.Quantity, 1)
	}
	return otherwise
}

func (w *shop) several(position string, found []parts.Application) decision {
	d := decision{question: true}
	for _, a := range found {
		count := max(w.calls(position).Quantity, 1)
		if f := w.stands(position); f != nil {
			count = f.Quantity
		}
		if a.Part != "" {
			d.bases = append(d.bases, based{a.Part, w.quantity(position, &a, count)})
		}
	}
	return d
}
