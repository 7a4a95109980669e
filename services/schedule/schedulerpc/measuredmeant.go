package schedulerpc

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/trend"
	"halfshaft/services/vehicle"
)

// wanted is what somebody said of a value, each empty when they did not.
type wanted struct{ position, characteristic, item, words string }

// candidate is a quantity that a value may be of, and for which item.
type candidate struct {
	quantity *quantity
	item     *schedule.Item // nil when no item of the programme in force measures it
	limit    *schedule.MeasuredLimit
}

// meant gives the quantities that a value may be of: those that are measured in
// a unit of its kind and agree with what was said. There is at least one, and
// never one that was guessed: where nothing goes by all of the words that were
// said, those that it does not go by are given, and it must be asked.
func (g *gauge) meant(value vehicle.Quantity, w wanted) (some []candidate, unknown []string, err error) {
	all, unknown, err := g.named(w)
	if err != nil {
		return nil, nil, err
	}
	some = slices.DeleteFunc(slices.Clone(all), func(c candidate) bool { return !vehicle.Convertible(value.Unit, c.unit()) })
	if len(some) == 0 {
		return nil, nil, g.noneIn(value, all)
	}
	// What has no limit, the thickness of a pack, is meant only where it is
	// named or nothing else can be: there is nothing to judge it by.
	limited := slices.DeleteFunc(slices.Clone(some), func(c candidate) bool { return c.limit == nil })
	if w.characteristic == "" && len(limited) > 0 {
		some = limited
	}
	slices.SortStableFunc(some, func(a, b candidate) int { return cmp.Compare(a.off(value), b.off(value)) })
	return some, unknown, nil
}

// named gives the quantities that agree with what was said, in whatever unit
// they are measured.
func (g *gauge) named(w wanted) (all []candidate, unknown []string, err error) {
	all = g.candidates()
	if w.item != "" {
		if all = slices.DeleteFunc(all, func(c candidate) bool { return c.item == nil || !strings.EqualFold(c.item.ID, w.item) }); len(all) == 0 {
			return nil, nil, fault.InvalidField("item_id", w.item, "an item of this vehicle's programme that measures something")
		}
	}
	position := func(c candidate) string { return c.quantity.Position }
	characteristic := func(c candidate) string { return c.quantity.Characteristic }
	some, ok := narrowed(all, w.position, position)
	if !ok {
		return nil, nil, fault.InvalidField("position", w.position, "where something is measured on "+string(g.serial)+": "+names(all, position))
	}
	of, ok := narrowed(some, w.characteristic, characteristic)
	if !ok {
		return nil, nil, fault.InvalidField("characteristic", w.characteristic, "what is measured there: "+names(some, characteristic))
	}
	return g.spoken(of, w.words)
}

// spoken narrows what could be meant by words for it.
func (g *gauge) spoken(all []candidate, words string) (some []candidate, unknown []string, err error) {
	if strings.TrimSpace(words) == "" {
		return all, nil, nil
	}
	if fault.Longer(words, maxName) {
		return nil, nil, fault.InvalidField("words", words, fault.AtMost(maxName))
	}
	called := make([]trend.Named, len(all))
	for i, c := range all {
		called[i] = trend.Named{Position: c.quantity.Position, Characteristic: c.quantity.Characteristic}
		if c.item != nil {
			called[i].Item, called[i].Title = c.item.ID, c.item.Title
		}
	}
	found, unknown := trend.Spoken(words, called)
	if len(found) == 0 {
		return nil, nil, fault.InvalidField("words", words, "words for something that is measured on "+string(g.serial)+": end float, tyre tread, or one of the positions "+
			names(all, func(c candidate) string { return c.quantity.Position }))
	}
	for _, i := range found {
		some = append(some, all[i])
	}
	return some, unknown, nil
}

// candidates gives each quantity once; twice where two items ask different
// things of it.
func (g *gauge) candidates() []candidate {
	var all []candidate
	for _, q := range g.inOrder() {
		from := len(all)
		all = append(all, candidate{q, q.item, q.Limit})
		for _, item := range q.items {
			l := limitOf(item, q.Characteristic)
			if !slices.ContainsFunc(all[from:], func(c candidate) bool { return c.limit != nil && trend.SameLimit(c.limit, l) }) {
				all = append(all, candidate{q, item, l})
			}
		}
	}
	return all
}

func (c *candidate) unit() string {
	if c.limit != nil {
		return c.limit.Unit
	}
	return c.quantity.Unit()
}

// off is how far a value is from what the quantity is, as a proportion, so that
// the likeliest is asked for first: from its last value, or else from the middle
// or the end of its window.
func (c *candidate) off(value vehicle.Quantity) float64 {
	now, ok := value.In(c.unit())
	if !ok {
		return math.Inf(1)
	}
	is, _ := now.Float64()
	was := 0.0
	if n := len(c.quantity.Values); n > 0 {
		if last, ok := c.quantity.Values[n-1].Quantity.In(c.unit()); ok {
			was, _ = last.Float64()
		}
	} else if c.limit != nil {
		ends := 0.0
		for _, d := range []*vehicle.Decimal{c.limit.Lower, c.limit.Upper} {
			if d != nil {
				was += d.Float64()
				ends++
			}
		}
		was /= ends
	}
	if is == 0 || was == 0 {
		return math.Abs(is - was)
	}
	return math.Abs(math.Log(math.Abs(is / was)))
}

// narrowed keeps what goes by a name: those that are called so, or else those
// that begin so, or else those that have all of its words. It reports false
// when none does; without a name all stay.
func narrowed(all []candidate, name string, of func(candidate) string) ([]candidate, bool) {
	if name == "" {
		return all, true
	}
	words := strings.Split(name, "-")
	for _, fits := range []func(string) bool{
		func(s string) bool { return s == name },
		func(s string) bool { return covers(name, s) },
		func(s string) bool {
			have := strings.Split(s, "-")
			return !slices.ContainsFunc(words, func(w string) bool { return !slices.Contains(have, w) })
		},
	} {
		if some := slices.DeleteFunc(slices.Clone(all), func(c candidate) bool { return !fits(of(c)) }); len(some) > 0 {
			return some, true
		}
	}
	return nil, false
}

// names lists the names that candidates go by.
func names(all []candidate, of func(candidate) string) string {
	var some []string
	for _, c := range all {
		if n := of(c); n != "" && !slices.Contains(some, n) {
			some = append(some, n)
		}
	}
	slices.Sort(some)
	return strings.Join(some, ", ")
}

// noneIn refuses a value in whose unit nothing is measured, and says in which
// units what is.
func (g *gauge) noneIn(value vehicle.Quantity, all []candidate) error {
	var units []string
	in := map[string][]string{}
	for _, c := range all {
		unit := c.unit()
		if in[unit] == nil {
			units = append(units, unit)
		}
		if name := c.quantity.Name(); !slices.Contains(in[unit], name) {
			in[unit] = append(in[unit], name)
		}
	}
	slices.Sort(units)
	var parts []string
	for _, u := range units {
		parts = append(parts, u+" ("+strings.Join(in[u], ", ")+")")
	}
	f := fault.InvalidField("value.unit", value.Unit, "a unit that converts into what is measured there: "+strings.Join(parts, "; "))
	f.Message = "Nothing that is measured there on " + string(g.serial) + " is measured in " + value.Unit + "."
	if name, _ := vehicle.UnitName(value.Unit); name == "kg" || name == "lb" || name == "g" || name == "oz" {
		f.Message += " That is a mass; a force is written kgf, lbf or N."
	}
	f.Reason = "NO_QUANTITY_IN_UNIT"
	return f
}

// count writes a small number in figures.
func count(n int) string { return strconv.Itoa(n) }
