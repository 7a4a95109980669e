package parts

import (
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// byNumber answers for a part that was asked for by its number: where it, or
// what took its place, stands on this vehicle; else with what it comes; else
// what stands in its way; else where it belongs.
func (q *query) byNumber(p *Part) Answer {
	x := q.index()
	leading := q.leadingTo(p.Number)
	standing, _ := slices.BinarySearch(leading, x.mains)
	for _, numbers := range [][]int{leading[:standing], leading[standing:]} {
		var meant []want
		var otherSide []string
		for _, n := range numbers {
			w := *x.wants[n]
			switch against := q.asked.against(w.position, p.Hand); {
			case !w.leads(p.Number):
			case against:
				otherSide = append(otherSide, w.position)
			default:
				meant = append(meant, w)
			}
		}
		if len(meant) > 0 {
			// Of what was merged, the place of the number that was asked for.
			slices.SortStableFunc(meant, func(a, b want) int { return compareBool(a.part != p.Number, b.part != p.Number) })
			return q.offers(unique(meant))
		}
		if len(otherSide) > 0 {
			return q.otherSide(p, sortedUnique(otherSide))
		}
	}
	var waiting []want
	var why *obstacle
	for _, n := range x.stopped {
		w := *x.wants[n]
		if o := w.blocked(p.Number); o != nil && !q.asked.against(w.position, p.Hand) && (why == nil || why.step == o.step && why.kind == o.kind) {
			waiting, why = append(waiting, w), o
		}
	}
	if why != nil {
		return q.blocked(waiting, p, *why)
	}
	return q.elsewhereOn(p)
}

// byDigits answers for a number of which only the figures were read out; it is
// checked with the caller. False when nothing on the vehicle has them, or
// several do.
func (q *query) byDigits(question string) (Answer, bool) {
	figures := NormalNumber(question)
	if len(figures) < fewestFigures || strings.Trim(figures, digits) != "" || !looksLikeNumber(question) {
		return Answer{}, false
	}
	var found *Part
	for number := range q.index().byNode {
		if strings.TrimLeft(NormalNumber(number), "ABCDEFGHIJKLMNOPQRSTUVWXYZ") == figures {
			if found != nil {
				return Answer{}, false
			}
			found = q.Catalogue.Part(number)
		}
	}
	if found == nil {
		return Answer{}, false
	}
	q.asked = understand("")
	a := q.byNumber(found)
	a.Question = "part " + found.Number
	if len(a.Choices) > 0 && a.AskBack == "" {
		a.AskBack = fmt.Sprintf("Is %s meant: %s?", found.Number, label(&a.Choices[0]))
	}
	return a, true
}

// fewestFigures are needed to know a part by them.
const fewestFigures = 4

// knownAs adds to the answer for a number what else was known by it elsewhere,
// as far as that is for this vehicle, and asks which is meant.
func (q *query) knownAs(number string, a Answer, others []*Part) Answer {
	var also []Choice
	for _, p := range others {
		b := q.byNumber(p)
		if b.Refusal != nil {
			continue
		}
		for _, c := range b.Choices {
			c.Reasons = append(c.Reasons, reason("OTHER_NUMBER", PartName(p.Number),
				fmt.Sprintf("%s is or was known elsewhere as %s too.", p.Number, number), "part", p.Number, "number", number))
			also = append(also, c)
		}
	}
	switch {
	case len(also) == 0:
		return a
	case a.Refusal != nil: // what is here in place of the first was not asked for then
		a.Choices = nil
	}
	a.Choices = append(a.Choices, also...)
	if a.AskBack = askBack(a.Choices); a.AskBack == "" {
		a.AskBack = "Is this meant: " + label(&a.Choices[0]) + "?"
	}
	return a
}

// elsewhereOn refuses a part that is not for this vehicle, and offers what is
// at the positions where other vehicles have it.
func (q *query) elsewhereOn(p *Part) Answer {
	refusal := q.notHere(p)
	var instead []want
	for _, number := range q.Catalogue.family(p.Number) {
		for _, row := range q.Catalogue.byPart[number] {
			s := q.site(row.Position)
			if s == nil || q.asked.against(s.position, p.Hand) {
				continue
			}
			for _, v := range s.others {
				if v.row == row {
					refusal.Reasons = append(refusal.Reasons, reason("APPLICATION_NOT_MET", row.record(), fmt.Sprintf(
						"At the %s, %s %s.", spoken(s.position), row.what(), row.Conditions.unmetWords(v.why, s.subject))))
				}
			}
			bases := s.bases()
			for _, b := range bases {
				instead = append(instead, b.main())
			}
			if why := s.root.strangeReason(); why != nil && len(bases) == 0 {
				refusal.Reasons = append(refusal.Reasons, *why)
				refusal.Sentence += " " + why.Sentence
			}
		}
	}
	var a Answer
	if len(instead) > 0 {
		a = q.offers(unique(instead))
	}
	a.Refusal = refusal
	return a
}

// otherSide refuses a part that belongs here, but not where it was asked for.
func (q *query) otherSide(p *Part, positions []string) Answer {
	var where []string
	for _, position := range positions {
		where = append(where, "the "+spoken(position))
	}
	sentence := fmt.Sprintf("%s (%s) does not belong there; on %s it belongs at %s.",
		p.Number, p.Title, q.vehicle.Configuration.Serial, wording.List(where, "and"))
	return Answer{Refusal: &Refusal{Rule: NotOnThisVehicle, Sentence: sentence, BelongsTo: where, Reasons: []vehicle.Reason{
		reason("OTHER_SIDE", PartName(p.Number), sentence, "part", p.Number, "asked", strings.Join(q.asked.directions, " ")),
	}}}
}

// leads says whether the number asked for leads, by supersessions that hold,
// to what is wanted here, and if so adds how.
func (w *want) leads(number string) bool {
	asked := w.from(number)
	if !asked.meets(&w.route) {
		return w.setAside(number, &asked)
	}
	for _, s := range asked.steps {
		if !slices.Contains(w.route.steps, s) {
			w.through = append(w.through, s)
		}
	}
	// One part of a split was asked for: that one is ordered, the others too.
	if i := slices.IndexFunc(w.route.lines, func(l Line) bool { return l.Part == asked.lines[0].Part }); i > 0 {
		lines := slices.Clone(w.route.lines)
		lines[0], lines[i] = lines[i], lines[0]
		w.route.lines = lines
	}
	w.tellAsked(number)
	return true
}

// setAside says whether what was asked for is the other of the two parts
// between which a record decided: the one specified where a campaign outranks
// it, the one fitted where the owner's part is not the standard.
func (w *want) setAside(number string, asked *route) bool {
	if w.why == nil || w.with != nil {
		return false
	}
	other := ""
	switch w.why.Rule {
	case ownerModification:
		other = w.fittedPart()
	case campaignOutranks, buildOutranks:
		other = w.specifiedPart()
	}
	if other == "" {
		return false
	}
	if r := w.from(other); !asked.meets(&r) {
		return false
	}
	w.tellAsked(number)
	return true
}

// tellAsked says that the number asked for is not the one to order.
func (w *want) tellAsked(number string) {
	if today := w.route.lines[0].Part; today != number {
		w.asked = []vehicle.Reason{reason("ASKED_OTHER_NUMBER", PartName(number), fmt.Sprintf(
			"%s was asked for; on this vehicle it leads to %s.", number, today), "asked", number, "part", today)}
	}
}

// blocked finds the supersession that would bring the number here, if it held;
// of several that take effect later the last, which brings the number itself.
func (w *want) blocked(number string) *obstacle {
	for i := range w.route.obstacles {
		o := &w.route.obstacles[i]
		for _, l := range o.step.New {
			if slices.Contains(w.successors(l.Part), number) {
				return o
			}
			if last := w.catalogue.lastStep(l.Part, number); last != nil && last.Effective.After(w.circumstances.on) {
				return &obstacle{step: last, kind: tooEarly}
			}
		}
	}
	return nil
}

// lastStep gives the supersession that brings a number on the way from
// another, whenever it takes effect; nil when none does.
func (c *Catalogue) lastStep(from, number string) *Supersession {
	seen := []string{from}
	for i := 0; i < len(seen); i++ {
		for _, s := range c.byOld[seen[i]] {
			for _, l := range s.New {
				if l.Part == number {
					return s
				}
				seen = addNew(seen, []string{l.Part})
			}
		}
	}
	return nil
}

// blocked refuses a part that would take another's place if a condition were
// met, and offers the last part that holds, wherever it does.
func (q *query) blocked(waiting []want, p *Part, o obstacle) Answer {
	why := o.reason(waiting[0].release)
	a := q.offers(unique(waiting))
	rule := ConditionNotMet
	refusal := Refusal{Reasons: []vehicle.Reason{why}}
	switch o.kind {
	case otherRelease:
		rule = NotOnThisVehicle
		refusal.BelongsTo = []string{fmt.Sprintf("in place of %s in release %s", o.step.Old, wording.List(o.step.Releases, "and"))}
	case notForRelease:
		rule = NotOnThisVehicle
		refusal.BelongsTo = q.belongs(p)
	}
	refusal.Rule, refusal.Sentence = rule, why.Sentence
	if a.Refusal != nil { // the last part that holds cannot be had either
		refusal.Sentence += " " + a.Refusal.Sentence
		refusal.Reasons = append(refusal.Reasons, a.Refusal.Reasons...)
	}
	a.Refusal = &refusal
	return a
}

// notHere refuses a part and says where it does belong.
func (q *query) notHere(p *Part) *Refusal {
	r := Refusal{Rule: NotOnThisVehicle, BelongsTo: q.belongs(p)}
	r.Sentence = fmt.Sprintf("%s (%s) does not belong on %s", p.Number, p.Title, q.vehicle.Configuration.Serial)
	if len(r.BelongsTo) > 0 {
		r.Sentence += "; it belongs: " + wording.List(r.BelongsTo[:min(3, len(r.BelongsTo))], "and")
		if more := len(r.BelongsTo) - 3; more > 0 {
			r.Sentence += fmt.Sprintf(", and in %d more places", more)
		}
	}
	r.Sentence += "."
	r.Reasons = []vehicle.Reason{reason(NotOnThisVehicle, PartName(p.Number), r.Sentence, "part", p.Number,
		"release", q.vehicle.Configuration.Release)}
	return &r
}
