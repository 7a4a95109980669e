package parts

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// want is a part wanted at a position: the one that stands there, or one that
// comes with it.
type want struct {
	base
	count   int              // how many of the base's part are needed
	with    *companionship   // for a part that comes with another; nil for the one that stands there
	asked   []vehicle.Reason // how the number asked for leads here
	through []*Supersession  // the steps from the number asked for, where they are not the base's own
}

// companionship says how a part comes with another.
type companionship struct{ part, holder, rule, how string }

func (c *companionship) reason() vehicle.Reason {
	return reason(c.rule, PartName(c.holder), fmt.Sprintf("%s %s %s.", c.part, c.how, c.holder), "part", c.part, "with", c.holder)
}

// main is what stands at the position itself.
func (b base) main() want { return want{base: b, count: b.quantity(b.by)} }

// today is the part to order; nil when the catalogue has no such part.
func (w *want) today() *Part { return w.catalogue.Part(w.route.lines[0].Part) }

// offer gives the choice for what is wanted, or says why it cannot be had.
func (w *want) offer() (Choice, *Refusal) {
	reasons := w.explain()
	part := w.today()
	if part == nil {
		number := w.route.lines[0].Part
		return Choice{}, &Refusal{Rule: NoSuchPart, Reasons: reasons, Sentence: fmt.Sprintf(
			"The records call for %s at the %s, and the catalogue has no such part.", number, spoken(w.position))}
	}
	steps := append(slices.Clip(w.through), w.route.steps...)
	if !part.Available() {
		var old *Part
		var back []*Supersession
		if len(w.route.lines) == 1 {
			old, back = w.standIn(part.Number)
		}
		if old == nil {
			return Choice{}, w.cannotBeHad(part, reasons)
		}
		reasons = append(reasons, standInReason(part, old, back))
		part, steps = old, withoutBack(steps, back)
	}
	c := Choice{
		Position: w.position, Title: w.title(), Order: part, Quantity: w.count * w.route.lines[0].Count(),
		Supersessions: steps, Reasons: reasons,
	}
	for _, l := range w.route.lines[1:] {
		c.AlsoOrder = append(c.AlsoOrder, Line{l.Part, l.Count() * w.count})
	}
	w.facts(&c)
	w.complete(&c)
	return c, nil
}

// facts tells what is on the vehicle and what was specified.
func (w *want) facts(c *Choice) {
	if w.with != nil {
		return // those are facts about the part it comes with
	}
	c.SpecifiedPart = w.specifiedPart()
	if a := w.application(); a != nil {
		c.Application = ApplicationName(a.ID)
	}
	if f := w.unit(); f != nil {
		c.FittedSerial, c.FittedLot = f.Serial, f.Lot
		c.Origin, c.FittedSince, c.FittedBy = w.fitted.Origin, f.Fitted, w.fitted.Change
		if f.Part != c.SpecifiedPart || f.Serial != "" || f.Lot != "" {
			c.FittedPart = f.Part
		}
	}
}

// complete adds what goes with the part: what is renewed with it, what a kit
// holds, what its status means, and what to mind.
func (w *want) complete(c *Choice) {
	c.RenewWith = w.renewWith(c)
	c.Contents = w.contents(c.Order)
	w.technical(c)
	c.Reasons = append(c.Reasons, w.oldStockReasons(c)...)
	for _, add := range []*vehicle.Reason{
		kitReason(c.Order), statusReason(c.Order), quantityReason(c, w.position), minimumReason(c),
	} {
		if add != nil {
			c.Reasons = append(c.Reasons, *add)
		}
	}
	for _, l := range c.AlsoOrder {
		if p := w.catalogue.Part(l.Part); p != nil {
			if r := statusReason(p); r != nil {
				c.Reasons = append(c.Reasons, *r)
			}
		}
	}
	c.Caution = w.cautions(c)
}

// renewWith is what must be renewed with everything that is ordered, as it is
// to be had today, without what a kit among it holds anyway.
func (w *want) renewWith(c *Choice) []Line {
	var wanted []Line
	ordered := append([]Line{{c.Order.Number, c.Quantity}}, c.AlsoOrder...)
	for _, l := range ordered {
		p := w.catalogue.Part(l.Part)
		if p == nil {
			continue
		}
		for _, with := range p.RenewWith {
			if !w.held(ordered, with.Part) {
				wanted = append(wanted, Line{with.Part, with.Count() * l.Count()})
			}
		}
	}
	lines := w.orderFor(wanted)
	renewed := slices.Clone(lines)
	return slices.DeleteFunc(lines, func(l Line) bool {
		return slices.ContainsFunc(renewed, func(other Line) bool { return other.Part != l.Part && w.held([]Line{other}, l.Part) })
	})
}

// held says whether a part is ordered already or in a kit that is.
func (w *want) held(ordered []Line, number string) bool {
	return slices.ContainsFunc(ordered, func(l Line) bool {
		p := w.catalogue.Part(l.Part)
		return l.Part == number || p != nil && slices.ContainsFunc(p.Contents, func(in Line) bool { return in.Part == number })
	})
}

// explain says step by step how the records lead to the part.
func (w *want) explain() []vehicle.Reason {
	reasons := slices.Clip(w.site.reasons())
	if w.why != nil {
		reasons = append(reasons, *w.why)
	}
	if w.with != nil {
		reasons = append(reasons, w.with.reason())
	}
	reasons = append(reasons, w.asked...)
	for _, s := range w.through {
		reasons = append(reasons, stepReason(s))
	}
	for _, s := range w.route.steps {
		reasons = append(reasons, stepReason(s))
	}
	for _, o := range w.route.obstacles {
		reasons = append(reasons, o.reason(w.release))
	}
	return reasons
}

// cautions collects what to mind with everything that is ordered, renewed,
// filled in or set, each sentence once.
func (w *want) cautions(c *Choice) string {
	var all []string
	add := func(caution string) {
		for _, sentence := range strings.SplitAfter(caution, ". ") {
			if sentence = wording.Ended(strings.TrimSpace(sentence)); sentence != "" && !slices.Contains(all, sentence) {
				all = append(all, sentence)
			}
		}
	}
	add(c.Order.Caution)
	for at := w.site; at != nil; at = at.on {
		if p := w.catalogue.positions.Get(at.position); p != nil {
			add(p.Caution)
		}
	}
	for _, f := range c.Capacities {
		add(f.Caution)
	}
	for _, s := range c.Settings {
		add(s.Caution)
	}
	for _, l := range append(slices.Clip(c.AlsoOrder), c.RenewWith...) {
		if p := w.catalogue.Part(l.Part); p != nil {
			add(p.Caution)
		}
	}
	return strings.Join(all, " ")
}

func (w *want) cannotBeHad(p *Part, reasons []vehicle.Reason) *Refusal {
	sentence := fmt.Sprintf("%s (%s), for the %s, is no longer to be had", p.Number, p.Title, spoken(w.position))
	if p.Drawing != "" {
		sentence += "; it can be remade from drawing " + p.Drawing
	}
	return &Refusal{Rule: CannotBeHad, Sentence: sentence + ".", Reasons: append(reasons, *statusReason(p))}
}

// withoutBack leaves out the steps that a stand-in goes back over.
func withoutBack(steps, back []*Supersession) []*Supersession {
	for _, s := range back {
		if n := len(steps); n > 0 && steps[n-1] == s {
			steps = steps[:n-1]
		}
	}
	return steps
}

func standInReason(gone, old *Part, back []*Supersession) vehicle.Reason {
	return reason("STANDS_IN", SupersessionName(back[len(back)-1].ID), fmt.Sprintf(
		"%s is no longer to be had; %s may stand in for it.", gone.Number, old.Number), "part", gone.Number, "stand_in", old.Number)
}

func kitReason(p *Part) *vehicle.Reason {
	if len(p.Contents) == 0 {
		return nil
	}
	r := reason("KIT", PartName(p.Number), fmt.Sprintf("%s is a kit and holds %s.", p.Number, lineList(p.Contents)), "contents", lineList(p.Contents))
	return &r
}

// oldStockReasons say whether the numbers that go may still be fitted, each
// sentence once for all that it holds for.
func (w *want) oldStockReasons(c *Choice) []vehicle.Reason {
	var sentences []string
	olds := map[string][]string{}
	for _, s := range c.Supersessions {
		sentence := w.oldStock(c, s)
		if sentence == "" {
			continue
		}
		if olds[sentence] == nil {
			sentences = append(sentences, sentence)
		}
		olds[sentence] = append(olds[sentence], s.olds()...)
	}
	var all []vehicle.Reason
	for _, sentence := range sentences {
		numbers := olds[sentence]
		all = append(all, reason("OLD_STOCK", PartName(numbers[0]), fmt.Sprintf(sentence, wording.List(numbers, "and")), "parts", strings.Join(numbers, ", ")))
	}
	return all
}

// oldStock gives the sentence about what one supersession replaced; empty where
// it has been said that either may be fitted.
func (w *want) oldStock(c *Choice, s *Supersession) string {
	old := w.catalogue.Part(s.Old)
	if old == nil || old == c.Order {
		return ""
	}
	fits := s.TwoWay || w.with != nil || w.fittedPart() == "" || w.fittedPart() == s.Old
	switch {
	case w.scrapped(s.Old):
		return "Stock of %s is not to be fitted any more."
	case s.OldStock == Reworked:
		return "Stock of %s is reworked to the new pattern before it is used."
	case s.OldStock == Kept:
		return "Stock of %s is kept for the vehicles that the supersession does not hold for: it is not for this one."
	case !fits:
		return "The vehicle has a later pattern than %s, which is not to be fitted in its place."
	case s.OldStock == UsedUpFirst || old.Status == UseUp:
		return "Stock of %s may still be fitted on this vehicle, while it lasts."
	case s.TwoWay:
		return ""
	}
	return "Whether %s from the shelf may still be fitted is not on record: the works' engineer is asked."
}

// scrapped says whether any supersession of a part that is in force says that
// its stock is not to be fitted any more; no other one takes that back.
func (w *want) scrapped(number string) bool {
	return slices.ContainsFunc(w.catalogue.byOld[number], func(s *Supersession) bool {
		return s.OldStock == Scrapped && !s.Effective.After(w.circumstances.on)
	})
}

// statusReason says what a status means; nil for an ordinary part.
func statusReason(p *Part) *vehicle.Reason {
	var r vehicle.Reason
	switch p.Status {
	case UseUp:
		r = reason("USE_UP", PartName(p.Number), fmt.Sprintf("No more %s is made: only what is in stock can be had.", p.Number),
			"part", p.Number, "drawing", p.Drawing)
	case Unavailable:
		sentence := fmt.Sprintf("%s is no longer to be had.", p.Number)
		if p.Drawing != "" {
			sentence = fmt.Sprintf("%s is no longer to be had; it can be remade from drawing %s.", p.Number, p.Drawing)
		}
		r = reason(CannotBeHad, PartName(p.Number), sentence, "part", p.Number, "drawing", p.Drawing)
	default:
		return nil
	}
	return &r
}

func quantityReason(c *Choice, position string) *vehicle.Reason {
	if c.Quantity <= 1 {
		return nil
	}
	r := reason("QUANTITY", "", fmt.Sprintf("%d are needed at the %s of this vehicle.", c.Quantity, spoken(position)),
		"quantity", strconv.Itoa(c.Quantity))
	return &r
}

func minimumReason(c *Choice) *vehicle.Reason {
	if c.Order.Minimum <= c.Quantity {
		return nil
	}
	unit := c.Order.Unit
	if unit == "" || unit == "each" {
		unit = "pieces"
	}
	r := reason("MINIMUM", PartName(c.Order.Number), fmt.Sprintf("The least that can be ordered is %d %s.", c.Order.Minimum, unit),
		"minimum_quantity", strconv.Itoa(c.Order.Minimum))
	return &r
}
