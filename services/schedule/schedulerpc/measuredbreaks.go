package schedulerpc

import (
	"slices"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/build"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/trend"
	"halfshaft/services/vehicle"
)

// breaks finds the days on which a quantity began anew: another component,
// an overhaul, another pack of shims, a renewal at a service, other tyres.
func (g *gauge) breaks(q *quantity) {
	if q.Position != "" {
		g.componentBreaks(q)
	}
	g.serviceBreaks(q)
	if covers(tyres, q.Position) {
		for i := range g.changes {
			if c := &g.changes[i]; c.Kind == build.Tyres && !c.Date.After(g.on) {
				q.begin(c.Date, c.Name(), "other tyres were fitted")
			}
		}
	}
}

// tyres is the position whose changes a build record keeps by size and pattern.
const tyres = "tyres"

// begin adds a break, once for each day and cause.
func (q *quantity) begin(on vehicle.Date, record, what string) {
	if !slices.ContainsFunc(q.Breaks, func(b trend.Break) bool { return b.Date == on }) {
		q.Breaks = append(q.Breaks, trend.Break{Date: on, Record: record, What: what})
	}
}

// leftAs marks what a renewal measured: it is as the component was left.
func (q *quantity) leftAs(record, item string) {
	for i := range q.Values {
		if v := &q.Values[i]; v.Record == record && v.Item == item && v.Stage == trend.SomeTime {
			v.Stage = trend.AsLeft
		}
	}
}

// componentBreaks are those that the build service knows of. A series of a
// beginning that several positions share begins anew with any of them. With
// another assembly comes another of all that is in it: the shims behind the
// bearing of a transfer case went with the case.
func (g *gauge) componentBreaks(q *quantity) {
	around := g.timeline.Assemblies(q.Position)
	for i := range g.timeline.Stays {
		s := &g.timeline.Stays[i]
		if s.Began != "" && !s.From.After(g.on) && slices.Contains(around, s.Component.Position) {
			q.begin(s.From, s.Began, "another "+trend.Plain(s.Component.Position)+" was fitted, and with it another "+trend.Plain(q.Position))
		}
		if !covers(q.Position, s.Component.Position) {
			continue
		}
		name := trend.Plain(s.Component.Position)
		if s.Began != "" && !s.From.After(g.on) {
			q.begin(s.From, s.Began, "another "+name+" was fitted")
		}
		for _, o := range s.Overhauls {
			if !o.Date.After(g.on) {
				q.begin(o.Date, o.Change, "the "+name+" was overhauled")
			}
		}
	}
}

// serviceBreaks are those that stand in service entries: shims, and an item
// that counts as the measuring item done, which is how a programme writes a
// renewal.
func (g *gauge) serviceBreaks(q *quantity) {
	measuring := map[string]bool{}
	for _, item := range q.items {
		measuring[item.ID] = true
	}
	for _, v := range q.Values {
		measuring[v.Item] = true
	}
	for _, r := range g.renewing() {
		m, on, item := g.evaluated.past.entries[r.entry], g.evaluated.past.done[r.entry].Date, r.item
		if item != nil && looksAt(item, q.Position) && slices.ContainsFunc(item.Resets, func(id string) bool { return measuring[id] }) {
			q.begin(on, m.GetName(), item.Title+" ("+item.ID+") was done")
			q.leftAs(m.GetName(), item.ID)
		}
		for _, p := range r.done.GetShims() {
			if w, err := shimWorkOf(p); err == nil && hyphened(at(w.Position, item)) == q.Position {
				q.reshimmed(on, m.GetName(), &w)
			}
		}
	}
}

// renewal is work in a service entry that may begin a quantity anew: with shims,
// or of an item that counts as another done.
type renewal struct {
	entry int
	done  *schedulev1.ItemDone
	item  *schedule.Item // as the programme of that day had it; nil for none
}

// renewing gives them up to the day, in order. Every quantity asks for them, and
// they are few among all that was done, so they are looked up once.
func (g *gauge) renewing() []renewal {
	if g.renewals != nil {
		return g.renewals
	}
	g.renewals = []renewal{}
	for i, m := range g.evaluated.past.entries {
		if g.evaluated.past.done[i].Date.After(g.on) {
			continue
		}
		for _, d := range m.GetItems() {
			item, err := g.itemThen(d.GetItemId(), g.evaluated.past.done[i].Date)
			if err != nil {
				item = nil
			}
			if item != nil && len(item.Resets) > 0 || len(d.GetShims()) > 0 {
				g.renewals = append(g.renewals, renewal{i, d, item})
			}
		}
	}
	return g.renewals
}
