package schedulerpc

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/build"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/schedule/trend"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// gauge is what can be and was measured on a vehicle by a day.
type gauge struct {
	service    *Service
	serial     vehicle.Serial
	on         vehicle.Date
	builtEtag  string // of the record that says what was measured at the build
	evaluated  *evaluated
	record     build.Record
	timeline   build.Timeline
	changes    []build.Change
	versions   []schedulestore.Version
	quantities map[quantityKey]*quantity
	renewals   []renewal // nil until they are asked for
}

// quantityKey is what makes a quantity: where, and what.
type quantityKey struct{ position, characteristic string }

// quantity is a series with what measures it today.
type quantity struct {
	trend.Series
	item  *schedule.Item   // of the programme in force, nil when none does; the one that measured last, of several
	items []*schedule.Item // all of them
}

// gauge gathers what was measured on a vehicle by a day, and what the programme
// of the day measures on it.
func (s *Service) gauge(ctx context.Context, parent string, on vehicle.Date) (*gauge, error) {
	serial, known, err := s.parent(ctx, parent)
	if err != nil {
		return nil, err
	}
	return s.gaugeOf(ctx, occasion{serial, known, s.store.History(serial), on, vehicle.Date{}, s.habitsOn(on)})
}

func (s *Service) gaugeOf(ctx context.Context, key occasion) (*gauge, error) {
	// What was measured at the build is not followed: it is large, and asked for
	// seldom.
	built, err := s.builds.GetBuild(ctx, &buildv1.GetBuildRequest{Name: "builds/" + string(key.serial)})
	if err != nil {
		return nil, err
	}
	g := &gauge{
		service: s, serial: key.serial, on: key.on, builtEtag: built.GetEtag(), versions: s.versionsFor(key),
		quantities: map[quantityKey]*quantity{},
	}
	if g.record, g.changes, err = key.known.state.Read(); err != nil {
		return nil, err
	}
	if g.timeline, err = build.TimelineOf(g.record, g.changes, s.fleet.specified()); err != nil {
		return nil, err
	}
	if g.evaluated, err = s.evaluate(key.known, key.history, key.on, key.habits, &schedule.Schedule{}); err != nil {
		return nil, err
	}
	if err := g.atTheBuild(built); err != nil {
		return nil, err
	}
	for i := range g.evaluated.past.entries {
		if err := g.inService(discreetEntry(access.CallerFrom(ctx), g.evaluated.past.entries[i]), &g.evaluated.past.done[i]); err != nil {
			return nil, err
		}
	}
	g.today()
	for _, q := range g.quantities {
		g.breaks(q)
		q.Sort()
	}
	return g, nil
}

// of gives the quantity, made when it is new.
func (g *gauge) of(position, characteristic string) *quantity {
	key := quantityKey{hyphened(position), characteristic}
	q := g.quantities[key]
	if q == nil {
		q = &quantity{Series: trend.Series{Position: key.position, Characteristic: characteristic, Dial: g.evaluated.Unit()}}
		g.quantities[key] = q
	}
	return q
}

// atTheBuild takes in what was measured before the delivery: at no distance.
func (g *gauge) atTheBuild(b *buildv1.Build) error {
	for _, m := range b.GetMeasurements() {
		on, err := vehiclewire.Date(m.GetMeasuredDate())
		if err != nil {
			return err
		}
		if on.IsZero() {
			on = g.record.Built
		}
		value, err := vehiclewire.Quantity(m.GetValue())
		if err != nil {
			return err
		}
		if on.After(g.on) {
			continue
		}
		q := g.of(m.GetPosition(), m.GetCharacteristic())
		limit, err := g.limitThen(q, on)
		if err != nil {
			return err
		}
		q.Values = append(q.Values, trend.Value{
			Date: on, Quantity: value, Instrument: m.GetInstrument(), MeasuredBy: m.GetMeasuredBy(),
			Record: "builds/" + string(g.serial), Known: true, Limit: limit,
		})
	}
	return nil
}

// limitThen is what the programme of a day asked of a quantity.
func (g *gauge) limitThen(q *quantity, on vehicle.Date) (*schedule.MeasuredLimit, error) {
	p, err := g.service.plans.inForce(g.versions, g.evaluated.plan.programme.ID, on)
	if err != nil {
		return nil, err
	}
	for i := range p.programme.Items {
		item := &p.programme.Items[i]
		if l := limitOf(item, q.Characteristic); l != nil && looksAt(item, q.Position) {
			return l, nil
		}
	}
	return nil, nil
}

// looksAt says whether an item looks after a position; one without position
// looks after the vehicle as a whole, and no more.
func looksAt(item *schedule.Item, position string) bool {
	return item.Position == position || item.Covers(position)
}

// inService takes in what a service entry measured.
func (g *gauge) inService(m *schedulev1.ServiceEntry, done *schedule.Entry) error {
	if done.Date.After(g.on) {
		return nil
	}
	for _, d := range m.GetItems() {
		item, err := g.itemThen(d.GetItemId(), done.Date)
		if err != nil {
			return err
		}
		for _, v := range d.GetMeasured() {
			value, err := vehiclewire.Quantity(v.GetValue())
			if err != nil {
				return err
			}
			one := g.valueOf(m, done, item)
			one.Quantity, one.Instrument = value, v.GetInstrument()
			one.MeasuredBy = cmp.Or(v.GetMeasuredBy(), one.MeasuredBy)
			one.Item = d.GetItemId()
			g.add(at(v.GetPosition(), item), v.GetCharacteristic(), one, item)
		}
	}
	return g.inShims(m, done)
}

// at is where something was measured: as said, or else where the item looks.
func at(position string, item *schedule.Item) string {
	if position == "" && item != nil {
		return item.Position
	}
	return position
}

// valueOf begins a value of an entry.
func (g *gauge) valueOf(m *schedulev1.ServiceEntry, done *schedule.Entry, item *schedule.Item) trend.Value {
	v := trend.Value{Date: done.Date, MeasuredBy: m.GetDoneBy(), Record: m.GetName()}
	if item != nil {
		v.Item = item.ID
	}
	if done.Mark >= 0 {
		if o := &g.evaluated.Ledger.Outcomes[done.Mark]; o.State == schedule.Counted {
			v.Distance, v.Known = o.Distance, true
		}
	}
	return v
}

// add puts a value into its series.
func (g *gauge) add(position, characteristic string, v trend.Value, item *schedule.Item) {
	v.Limit = limitOf(item, characteristic)
	q := g.of(position, characteristic)
	q.Values = append(q.Values, v)
}

// itemThen gives an item as the programme of a day had it; one that only another
// version has is taken from there, and nil when none has.
func (g *gauge) itemThen(id string, on vehicle.Date) (*schedule.Item, error) {
	first, err := g.service.plans.inForce(g.versions, g.evaluated.plan.programme.ID, on)
	if err != nil {
		return nil, err
	}
	if n, ok := first.Index(id); ok {
		return first.Item(n), nil
	}
	for v := range g.versions {
		p, err := g.service.plans.at(g.versions, v)
		if err != nil {
			return nil, err
		}
		if n, ok := p.Index(id); ok {
			return p.Item(n), nil
		}
	}
	return nil, nil
}

// today takes in what the programme in force measures on the vehicle as it
// stands, measured or not.
func (g *gauge) today() {
	for _, fit := range g.evaluated.vehicle.Fits {
		item := g.evaluated.plan.Item(int(fit.Item))
		for i := range item.Measured {
			what := item.Measured[i].Characteristic
			for _, position := range g.positionsOf(item) {
				g.of(position, what)
			}
			for key, q := range g.quantities {
				if key.characteristic == what && looksAt(item, key.position) {
					q.items = append(q.items, item)
				}
			}
		}
	}
	for _, q := range g.quantities {
		q.choose()
	}
}

// choose takes, of several items that measure a quantity, the one that measured
// last, or else the first that is done at intervals.
func (q *quantity) choose() {
	if len(q.items) == 0 {
		return
	}
	var last vehicle.Date
	for _, v := range q.Values {
		for _, item := range q.items {
			if item.ID == v.Item && !v.Date.Before(last) {
				q.item, last = item, v.Date
			}
		}
	}
	if q.item == nil {
		q.item = q.items[0]
		if n := slices.IndexFunc(q.items, func(i *schedule.Item) bool { return !i.Every.IsZero() }); n >= 0 {
			q.item = q.items[n]
		}
	}
	q.Limit = limitOf(q.item, q.Characteristic)
}

// positionsOf gives where an item measures on the vehicle as it stands: at its
// position, or at all that begin with it where nothing stands at that alone.
func (g *gauge) positionsOf(item *schedule.Item) []string {
	var begin []string
	for i := range g.timeline.Stays {
		s := &g.timeline.Stays[i]
		if s.From.After(g.on) || !s.Until.IsZero() && !s.Until.After(g.on) {
			continue
		}
		switch p := s.Component.Position; {
		case p == item.Position:
			return []string{p}
		case item.Covers(p):
			begin = append(begin, p)
		}
	}
	if len(begin) == 0 {
		return []string{item.Position}
	}
	return begin
}

// inOrder gives the quantities in order of their names.
func (g *gauge) inOrder() []*quantity {
	return slices.SortedFunc(maps.Values(g.quantities), func(a, b *quantity) int { return cmp.Compare(g.nameOf(a), g.nameOf(b)) })
}

// nameOf is the resource name of a series.
func (g *gauge) nameOf(q *quantity) string {
	return "vehicles/" + string(g.serial) + "/measuredSeries/" + cmp.Or(q.Position, "vehicle") + "." + q.Characteristic
}

// hyphened writes a position or characteristic as records do, however somebody
// typed it: "output shaft bearing" is "output-shaft-bearing".
func hyphened(text string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return r == ' ' || r == '-' || r == '_' || r == '/' }), "-")
}

// covers says whether a position is the one asked for, or begins with it.
func covers(asked, position string) bool {
	return position == asked || strings.HasPrefix(position, asked+"-")
}
