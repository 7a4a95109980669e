package parts

import (
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/wording"
)

// query is one question about one vehicle.
type query struct {
	*Ready
	asked asked
}

// answer understands the question: a position, else a part number, else words.
func (q *query) answer(question string) Answer {
	if positions := q.positionsMeant(); len(positions) > 0 {
		a := q.byPosition(positions)
		a.Question = "position " + wording.List(positions, "or")
		return a
	}
	if found, as, rest := q.Catalogue.partsIn(question); len(found) > 0 {
		q.asked = understand(rest)
		a := q.byNumber(found[0])
		if len(found) > 1 {
			a = q.knownAs(as, a, found[1:])
		}
		a.Question = "part " + found[0].Number
		return a
	}
	if a, ok := q.byDigits(question); ok {
		return a
	}
	if a, ok := q.byTechnical(); ok {
		return a
	}
	a := q.byWords(question)
	a.Question = "words " + q.asked.all()
	return a
}

// positionsMeant are those that the releases, the catalogue or this vehicle
// know.
func (q *query) positionsMeant() []string {
	meant := q.Places.positions(q.asked)
	meant = sortedUnique(append(slices.Clone(meant), q.Catalogue.placeNames.positions(q.asked)...))
	if len(meant) > 0 {
		return meant
	}
	key := q.asked.key()
	for _, s := range q.index().strays {
		a := understand(s.position)
		if a.key() == key {
			return []string{s.position}
		}
	}
	return nil
}

func (q *query) byPosition(positions []string) Answer {
	var wants []want
	var refusal *Refusal
	for _, position := range positions {
		s := q.site(position)
		if s == nil {
			continue
		}
		bases := s.bases()
		for _, b := range bases {
			wants = append(wants, b.main())
		}
		if len(bases) == 0 {
			refusal = s.refusal()
		}
	}
	switch {
	case len(wants) > 0:
		return q.offers(wants)
	case refusal == nil:
		refusal = &Refusal{Rule: PositionEmpty, Sentence: fmt.Sprintf("%s has nothing at the %s, and its specification calls for nothing there.",
			q.vehicle.Configuration.Serial, spoken(wording.List(positions, "or")))}
	}
	if len(refusal.BelongsTo) == 0 {
		var places []place
		for _, position := range positions {
			places = append(places, q.Places.byPosition[position]...)
		}
		refusal.BelongsTo = describe(places)
	}
	return Answer{Refusal: refusal}
}

// refusal says why a position that the vehicle has gives no part.
func (s *site) refusal() *Refusal {
	r := &Refusal{Rule: PositionEmpty, Reasons: s.reasons()}
	switch {
	case s.nothingSupplied():
		r.Rule = NothingSupplied
		var why []string
		for _, c := range s.candidates {
			why = addNew(why, []string{wording.Ended(wording.UpperFirst(c.row.Text))})
		}
		r.Sentence = strings.Join(why, " Or: ")
	case s.fitted != nil:
		why := *s.ownerReason()
		r.Reasons = append(r.Reasons, why)
		r.Sentence = why.Sentence
	default:
		r.Rule = NoApplication
		var why []string
		for _, o := range s.others {
			if len(why) < 3 {
				why = append(why, fmt.Sprintf("%s %s", o.row.what(), o.row.Conditions.unmetWords(o.why, s.subject)))
			}
			r.BelongsTo = append(r.BelongsTo, fmt.Sprintf("%s: %s", o.row.what(), o.row.Conditions.words()))
		}
		r.Sentence = fmt.Sprintf("The catalogue has nothing for the %s of this vehicle as it stands", spoken(s.position))
		if len(why) > 0 {
			r.Sentence += ": " + strings.Join(why, "; ")
		}
		r.Sentence += "."
		if why := s.root.strangeReason(); why != nil {
			r.Reasons = append(r.Reasons, *why)
			r.Sentence += " " + why.Sentence
		}
	}
	return r
}

// offers turns what is wanted into choices, and asks back when there are
// several. What cannot be had is told when nothing else is, or beside it.
func (q *query) offers(wants []want) Answer {
	if n := len(wants); n > mostChoices { // more than can be read out
		a := q.offers(wants[:mostChoices])
		a.AskBack = fmt.Sprintf("There are %d that this may mean: where does it sit, or what else is it called?", n)
		return a
	}
	var a Answer
	for i := range wants {
		c, refusal := wants[i].offer()
		switch {
		case refusal == nil:
			a.Choices = append(a.Choices, c)
		case a.Refusal == nil:
			a.Refusal = refusal
		}
	}
	if len(a.Choices) > 0 && wants[0].by != nil {
		a.AskBack = wants[0].question() // even where only one of the candidates can be offered
	}
	if a.AskBack == "" {
		a.AskBack = askBack(a.Choices)
	}
	return a
}

// companions are the parts that come with what is ordered: what is renewed
// with it, what a kit holds, what else a split needs. A kit may hold kits.
func (w *want) companions() []want {
	var out []want
	seen := []string{}
	var add func(holder string, count int, lines []Line, rule, how string)
	add = func(holder string, count int, lines []Line, rule, how string) {
		for _, l := range lines {
			if slices.Contains(seen, l.Part) {
				continue
			}
			seen = append(seen, l.Part)
			with := &companionship{part: l.Part, holder: holder, rule: rule, how: how}
			one := want{base: w.site.base(l.Part, nil), count: count * l.Count(), with: with}
			out = append(out, one)
			for _, today := range one.route.lines {
				if p := w.catalogue.Part(today.Part); p != nil {
					add(p.Number, one.count*today.Count(), p.Contents, "IN_KIT", "is held in the kit")
				}
			}
		}
	}
	for i, l := range w.route.lines {
		p := w.catalogue.Part(l.Part)
		if p == nil {
			continue
		}
		count := w.count * l.Count()
		if i > 0 {
			add(w.part, w.count, w.route.lines[i:i+1], "PART_OF_SPLIT", "takes, with others, the place of")
		}
		add(p.Number, count, p.Contents, "IN_KIT", "is held in the kit")
		add(p.Number, count, p.RenewWith, "RENEWED_WITH", "is renewed with")
	}
	return out
}
