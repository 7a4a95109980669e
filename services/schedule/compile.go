package schedule

import (
	"math/big"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Plan is a programme made ready. It is not changed after Compile and safe for
// concurrent use.
type Plan struct {
	Programme *Programme
	index     map[string]int
	items     []planned
}

// planned is an item with its numbers worked out.
type planned struct {
	*Item
	predicate     vehicle.Predicate // nil: on every vehicle
	begins        bool              // it has a first limit
	recurs        bool              // it has an interval
	firstDistance vehicle.Distance
	everyDistance vehicle.Distance
	shortDistance vehicle.Distance // under severe use; 0 where there is no distance limb
	shortMonths   int
	severeOn      useSet // kinds of which one is enough; 0: the general rule
	shortens      bool
	starts        []plannedStart
	doneBy        []int    // items whose doing counts as doing this one, itself first
	since         day      // the first day of its version; noDay for the first version
	before        *planned // the item in the version before; nil when it had none
}

type plannedStart struct {
	kind                      EventKind
	notBefore, withinDistance vehicle.Distance
	withinDays                int
	lead                      int // days before the event from which an entry counts for it
}

// Compile checks a programme and makes it ready. The error is a *fault.Error
// of kind Invalid with every fault of the programme, predicates included.
func Compile(p *Programme, c vehicle.PredicateCompiler) (*Plan, error) {
	wrong := p.Validate()
	plan := &Plan{Programme: p, index: make(map[string]int, len(p.Items)), items: make([]planned, len(p.Items))}
	for n := range p.Items {
		it := &p.Items[n]
		plan.index[it.ID] = n
		plan.items[n] = plannedItem(it)
		if it.AppliesWhen == "" || len(it.AppliesWhen) > maxPredicate {
			continue
		}
		predicate, problems := c.Compile(it.AppliesWhen)
		for _, problem := range problems {
			wrong = append(wrong, fault.Field{Name: "items[" + it.ID + "].applies_when", Got: it.AppliesWhen, Want: problem.String()})
		}
		plan.items[n].predicate = predicate
	}
	if err := fault.InvalidFields(wrong); err != nil {
		return nil, err
	}
	plan.closeResets()
	return plan, nil
}

func plannedItem(it *Item) planned {
	p := planned{
		Item: it, since: noDay, begins: !it.First.IsZero(), recurs: !it.Every.IsZero(),
		firstDistance: exact(it.First.Distance), everyDistance: exact(it.Every.Distance),
	}
	p.shortDistance, p.shortMonths = p.everyDistance, it.Every.Months
	if f := it.Severe.DistanceFactor; f != (vehicle.Decimal{}) {
		p.shortDistance, _ = f.Times(p.everyDistance)
		p.shortens = true
	}
	if f := it.Severe.TimeFactor; f != (vehicle.Decimal{}) && it.Every.Months > 0 {
		p.shortMonths = max(1, wholeMonths(it.Every.Months, f))
		p.shortens = true
	}
	for _, k := range it.Severe.When {
		p.severeOn |= setOf(k)
	}
	for _, s := range it.StartsOn {
		start := plannedStart{s.Event, exact(s.NotBefore), exact(s.WithinDistance), s.WithinDays, 0}
		switch s.Event {
		case LayUpBegins:
			start.lead = layUpLead
		case Recommission:
			start.lead = returnLead
		}
		p.starts = append(p.starts, start)
	}
	return p
}

// layUpLead is how many days before a vehicle is put away the work for it may
// be done and still counts.
const layUpLead = 60

// returnLead is how many days before a vehicle is brought back the work for it
// may be done, while it stands, and still counts: owners are told some six weeks
// ahead, for the sake of parts.
const returnLead = 60

// exact is a distance that Validate accepted; 0 for none.
func exact(e vehicle.Entered) vehicle.Distance {
	if e.IsZero() {
		return 0
	}
	d, _ := e.Distance()
	return d
}

// wholeMonths is months times a factor, rounded down, without the error of
// binary fractions: 10 x 0.7 is 7.
func wholeMonths(months int, factor vehicle.Decimal) int {
	ten := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(factor.Scale)), nil)
	n := new(big.Int).Mul(big.NewInt(int64(months)), big.NewInt(factor.Coefficient))
	return int(n.Div(n, ten).Int64())
}

// closeResets finds, for each item, all whose doing counts as doing it,
// directly or by another.
func (p *Plan) closeResets() {
	resets := make([][]int, len(p.items))
	for n := range p.items {
		for _, id := range p.items[n].Resets {
			resets[n] = append(resets[n], p.index[id])
		}
	}
	for n := range p.items {
		reached := map[int]bool{n: true}
		for next := []int{n}; len(next) > 0; {
			at := next[0]
			next = next[1:]
			p.items[at].doneBy = append(p.items[at].doneBy, n)
			for _, to := range resets[at] {
				if !reached[to] {
					reached[to] = true
					next = append(next, to)
				}
			}
		}
	}
}

// Follow tells a plan which version it took over from, so that what it asks
// for newly it asks for from its first day on. It is part of making the plan
// ready: call it before the plan is used.
func (p *Plan) Follow(before *Plan) {
	for n := range p.items {
		it := &p.items[n]
		it.since = dayOf(p.Programme.Effective)
		if i, ok := before.index[it.ID]; ok {
			it.before = &before.items[i]
		}
	}
}

// Len is the number of items.
func (p *Plan) Len() int { return len(p.items) }

// Item gives an item by its index in the programme.
func (p *Plan) Item(index int) *Item { return p.items[index].Item }

// Index finds an item by its identifier.
func (p *Plan) Index(id string) (int, bool) {
	n, ok := p.index[id]
	return n, ok
}

// Applicable gives the indexes of the items that are on a vehicle. An error of
// a predicate is a *fault.Error of kind FailedPrecondition naming the items;
// the index list then holds the items that could be decided, and those that
// could not: work that may be needed is shown, not dropped.
func (p *Plan) Applicable(c vehicle.Makeup) ([]uint16, error) {
	var on []uint16
	var wrong []fault.Field
	for n := range p.items {
		applies := true
		if pred := p.items[n].predicate; pred != nil {
			var err error
			if applies, err = pred.Applies(c); err != nil {
				applies = true
				wrong = append(wrong, fault.Field{
					Name: "items[" + p.items[n].ID + "].applies_when", Got: err.Error(),
					Want: "a predicate that looks with `in` before it asks",
				})
			}
		}
		if applies {
			on = append(on, uint16(n))
		}
	}
	if len(wrong) > 0 {
		return on, &fault.Error{Kind: fault.FailedPrecondition, Reason: "PREDICATE_FAILED",
			Message: "some items of " + p.Programme.Name() + " could not be decided for this vehicle", Fields: wrong}
	}
	return on, nil
}
